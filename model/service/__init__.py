"""What a user can do, one module each: the only room that ties the others together.

May import every room below. `fits` and `demo` reach the sampler; the other
modules never do, so that pages may use them.
"""
