"""Posteriors as netCDF files: swapped in whole, checked by hash and schema on the way back."""

import hashlib
import io
from contextlib import suppress
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from model.base.errors import PosteriorInvalid, StoreError
from model.posterior.posterior import FitCheck, Posterior, Provenance, schema_faults
from model.records.campaign import Campaign
from model.store.files import swap_in

FOLDER_NAME: Final = "posteriors"
SUFFIX: Final = ".nc"
TEMPORARY_SUFFIX: Final = ".part"
_COMPRESSION: Final = {"zlib": True, "complevel": 1, "shuffle": True}
"""Lossless, and as fast as none at all on 4000 draws."""

_REFIT_HINT: Final = "Run `kedgewise fit` to make it anew; the pulls themselves are not touched."


def write(folder: Path, posterior: Posterior, *, mark: str) -> tuple[str, str]:
    """Write a posterior so that at any moment the file is there whole or not at all.

    Parameters
    ----------
    folder : Path
        The store's folder.
    posterior : Posterior
        Draws that have the declared schema.
    mark : str
        Makes the temporary name unique.

    Returns
    -------
    tuple of str
        Name of the file inside the folder ``posteriors``, and its SHA-256.

    Raises
    ------
    PosteriorInvalid
        If the draws do not have the schema; nothing is written.
    StoreError
        If the file cannot be written.
    """
    _require_schema(posterior)
    target = folder / FOLDER_NAME
    temporary = target / f"{mark}{TEMPORARY_SUFFIX}"
    try:
        target.mkdir(exist_ok=True)
        content = _content(posterior)
        temporary.write_bytes(content)
        sha256 = hashlib.sha256(content).hexdigest()
        # The hash in the name: a file that a row already points to is never overwritten.
        name = f"{posterior.provenance.id[:16]}-{sha256[:12]}{SUFFIX}"
        swap_in(temporary, target / name)
    except OSError as error:
        raise StoreError(
            f"the posterior could not be written to {target} ({error})",
            hint="The previous posterior stands. Check room and permissions, then fit again.",
        ) from error
    finally:
        # Half a file would keep a full disk full: no pull could be logged either.
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
    return name, sha256


def _content(posterior: Posterior) -> bytes:
    """The bytes of a posterior's file.

    Made in memory: on a full disk the library below would print one traceback for
    every variable that it could not write.
    """
    draws = posterior.draws.assign_attrs(
        campaign=posterior.campaign.model_dump_json(),
        provenance=posterior.provenance.model_dump_json(),
        fit_check=posterior.fit_check.model_dump_json(),
    )
    encoding = {str(name): _COMPRESSION for name in draws.data_vars if draws[name].size}
    return bytes(draws.to_netcdf(engine="h5netcdf", encoding=encoding))


def read(folder: Path, name: str, sha256: str) -> Posterior:
    """Read a posterior back.

    Raises
    ------
    StoreError
        If the file is missing, truncated or changed since it was written.
    PosteriorInvalid
        If its draws do not have the declared schema.
    """
    posterior = _parse(read_verified(folder, name, sha256), folder / FOLDER_NAME / name)
    _require_schema(posterior)
    return posterior


def read_verified(folder: Path, name: str, sha256: str) -> bytes:
    """The bytes of a posterior's file, the same as were stored.

    Raises
    ------
    StoreError
        If the file is missing, truncated or changed since it was written.
    """
    path = folder / FOLDER_NAME / name
    try:
        content = path.read_bytes()
    except OSError as error:
        raise StoreError(
            f"the posterior {path} cannot be read ({error})", hint=_REFIT_HINT
        ) from error
    if hashlib.sha256(content).hexdigest() != sha256:
        raise StoreError(
            f"the posterior {path} is not what was stored ({len(content)} bytes, other hash)",
            hint=_REFIT_HINT,
        )
    return content


def _parse(content: bytes, path: Path) -> Posterior:
    import xarray as xr  # takes a second: only who reads draws waits for it

    try:
        draws = xr.load_dataset(io.BytesIO(content), engine="h5netcdf")
        return Posterior(
            draws=draws.drop_attrs(deep=False),
            campaign=Campaign.model_validate_json(draws.attrs["campaign"]),
            provenance=Provenance.model_validate_json(draws.attrs["provenance"]),
            fit_check=FitCheck.model_validate_json(draws.attrs["fit_check"]),
        )
    except (OSError, ValueError, KeyError, ValidationError) as error:
        raise PosteriorInvalid(f"{path} holds no posterior ({error})", hint=_REFIT_HINT) from error


def _require_schema(posterior: Posterior) -> None:
    faults = schema_faults(posterior.draws)
    if faults:
        raise PosteriorInvalid(
            f"the draws of posterior {posterior.provenance.id} are not as declared: "
            + "; ".join(faults),
            hint=_REFIT_HINT,
        )


def discard_all_but(folder: Path, keep: set[str]) -> None:
    """Remove draws that nothing points to, and what interrupted writes left behind.

    To be called by whoever holds the store's fit lock: a temporary file of a
    writer at work would go as well.
    """
    for path in (folder / FOLDER_NAME).glob("*"):
        if path.suffix in {SUFFIX, TEMPORARY_SUFFIX} and path.name not in keep:
            path.unlink(missing_ok=True)
