"""Static files under hashed names, with the phone's modules finding each other by them."""

from collections.abc import Iterator
from fnmatch import fnmatchcase
from typing import Any

from django.core.files.base import ContentFile
from whitenoise.storage import CompressedManifestStaticFilesStorage

from apps.field.scripts import bare

OURS = "js/field/*.js"


class _Bare:
    """Another storage's scripts, read without their comments."""

    def __init__(self, storage: Any) -> None:
        self.storage = storage

    def open(self, path: str) -> "ContentFile[bytes]":
        with self.storage.open(path) as file:
            return ContentFile(bare(file.read().decode()).encode())


class HashedModulesStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Rewrites what one module imports to the hashed name of the other."""

    support_js_module_import_aggregation = True
    # Ours alone: whatever else looks like an import in a packaged script is none of our business.
    _js_module_import_aggregation_patterns = (
        OURS,
        CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns[1],
    )
    # A name depends on the names of all that it imports: as many passes as the longest chain.
    max_post_process_passes = 15
    # Halfway names would stay for good and be compressed with the rest.
    keep_intermediate_files = False

    def post_process(
        self, paths: dict[str, tuple[Any, str]], **options: Any
    ) -> Iterator[tuple[str, str | None, Any]]:
        lean = {
            name: (_Bare(storage), path) if fnmatchcase(name, OURS) else (storage, path)
            for name, (storage, path) in paths.items()
        }
        yield from super().post_process(lean, **options)
