"""The independent check of a finished plan: a second opinion that shares no code with what made the plan."""

from optimizer.verification.check import verify
from optimizer.verification.findings import Finding, Verification, ZoneFigures

__all__ = ["Finding", "Verification", "ZoneFigures", "verify"]
