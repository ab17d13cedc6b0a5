"""plasmawright: plan, guide and record the preparation of platelet-rich plasma at a small bench."""

__version__ = "0.1.0"
