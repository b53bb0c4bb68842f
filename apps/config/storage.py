"""Static files under hashed names, with the phone's modules finding each other by them."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedModulesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Rewrites what one module imports to the hashed name of the other."""

    support_js_module_import_aggregation = True
    # Ours alone: whatever else looks like an import in a packaged script is none of our business.
    _js_module_import_aggregation_patterns = (
        "js/field/*.js",
        CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns[1],
    )
    # A name depends on the names of all that it imports: as many passes as the longest chain.
    max_post_process_passes = 15
    # Halfway names would stay for good and be compressed with the rest.
    keep_intermediate_files = False
