"""The compiled log-likelihood as a PyTensor operation with its gradient."""

import hashlib
import inspect
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import DisconnectedType, disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch.basic import numba_njit, register_funcify_default_op_cache_key

from model.graph import (
    kernel,
    kernel_campaign,
    kernel_evidence,
    kernel_tail,
    machine_code,
    normal_tail,
)
from model.graph.kernel_campaign import log_likelihood_with_gradient


def kernel_source_hash() -> str:
    """Hash of the kernel's source: part of the key under which its machine code is kept.

    Without it a changed kernel would go on running as the old one out of the
    compile cache, which looks at the operation's name only.
    """
    modules = (
        kernel,
        kernel_tail,
        normal_tail,
        kernel_evidence,
        kernel_campaign,
        machine_code,
    )
    text = "".join(inspect.getsource(module) for module in modules)
    return hashlib.sha256(text.encode()).hexdigest()


class CampaignLogLikelihood(Op):
    """Log-likelihood of a campaign, a scalar; the second output is its gradient.

    Inputs are those of
    :func:`model.graph.kernel_campaign.log_likelihood_with_gradient`. Only the
    first output may be differentiated, and only by the parameter vector.
    """

    __props__ = ("source",)

    def __init__(self) -> None:
        self.source = kernel_source_hash()

    def make_node(self, *inputs: Any) -> Apply[Any]:
        """Declare a scalar and a vector ``(parameter,)``."""
        tensors = [pt.as_tensor_variable(value) for value in inputs]
        return Apply(self, tensors, [pt.dscalar(), pt.dvector()])

    def perform(self, node: Any, inputs: Any, output_storage: Any) -> None:
        """Run the kernel outside a compiled graph."""
        value, gradient = log_likelihood_with_gradient(*inputs)
        output_storage[0][0], output_storage[1][0] = np.asarray(value), gradient

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        """Weigh the gradient by the cotangent of the log-likelihood."""
        others = [disconnected_type() for _ in inputs[1:]]
        if isinstance(cotangents[0].type, DisconnectedType):
            return [disconnected_type(), *others]
        return [cotangents[0] * outputs[1], *others]

    def connection_pattern(self, node: Any) -> list[list[bool]]:
        """Gradients flow from the first output to the first input only."""
        return [[i == 0, False] for i in range(len(node.inputs))]

    def infer_shape(self, node: Any, shapes: Any) -> list[Any]:
        """Shapes without running the kernel."""
        return [(), shapes[0]]


@register_funcify_default_op_cache_key(CampaignLogLikelihood)
def numba_funcify_campaign_log_likelihood(op: Any, node: Any, **_: Any) -> Any:
    """Hand the kernel to PyTensor's Numba backend."""

    @numba_njit
    def campaign_log_likelihood(
        vector: Any, row_start: Any, column: Any, value: Any, shared: Any, has_set: Any,
        bites: Any, seen: Any, buried: Any, signs: Any, first: Any, nodes: Any, log_weight: Any,
    ) -> tuple[Any, Any]:  # fmt: skip
        total, gradient = log_likelihood_with_gradient(
            vector, row_start, column, value, shared, has_set, bites, seen, buried, signs, first,
            nodes, log_weight,
        )  # fmt: skip
        return np.asarray(total), gradient

    return campaign_log_likelihood


campaign_log_likelihood = CampaignLogLikelihood()
