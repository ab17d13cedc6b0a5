"""Argon2 as the product uses it, with costs for tests: they make hundreds of people."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class QuickArgon2(Argon2PasswordHasher):
    """The same algorithm and the same form of hash, in a millisecond."""

    time_cost = 1
    memory_cost = 64
    parallelism = 1
