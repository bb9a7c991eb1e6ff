"""Property tests of manifests do not fail because a shared machine was slow for a moment."""

from hypothesis import HealthCheck, settings

settings.register_profile("manifests", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("manifests")
