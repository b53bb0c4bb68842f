"""Collected files: modules that find each other by hashed names, and nothing else rewritten."""

import hashlib
import re
import shutil
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.storage import FileSystemStorage

from apps.config.storage import HashedModulesStorage
from apps.field.scripts import BLOCKS, LINES, bare

IMPORTED = re.compile(r'(?:from |import\()"\./([^"]+)"')
OTHER = '// As it came.\nimport {a} from "./gone.js";\n'


@pytest.fixture(scope="module")
def collected(tmp_path_factory):
    """The phone's modules and one foreign script, processed as collectstatic does."""
    root = tmp_path_factory.mktemp("static")
    shutil.copytree(Path(settings.BASE_DIR) / "static/js/field", root / "js/field")
    (root / "vendor.js").write_text(OTHER)
    files = FileSystemStorage(location=root)
    names = [path.relative_to(root).as_posix() for path in root.rglob("*.js")]
    storage = HashedModulesStorage(location=root, base_url="/static/")
    done = list(storage.post_process({name: (files, name) for name in names}))
    assert [problem for _, _, problem in done if isinstance(problem, Exception)] == []
    return root, storage.hashed_files


def hashed_modules(collected):
    root, names = collected
    return {name: root / hashed for name, hashed in names.items() if name.startswith("js/field/")}


def test_every_module_gets_a_hashed_name(collected):
    sources = {path.name for path in (Path(settings.BASE_DIR) / "static/js/field").glob("*.js")}
    made = hashed_modules(collected)
    assert {Path(name).name for name in made} == sources
    assert all(re.fullmatch(r"[\w-]+\.[0-9a-f]{12}\.js", path.name) for path in made.values())


def test_every_import_names_a_hashed_file_that_is_there(collected):
    made = hashed_modules(collected)
    there = {path.name for path in made.values()}
    wanted = {name for path in made.values() for name in IMPORTED.findall(path.read_text())}
    assert len(wanted) > 5
    assert wanted <= there


def test_a_name_is_the_hash_of_what_the_file_says_at_last(collected):
    for path in hashed_modules(collected).values():
        digest = hashlib.md5(path.read_bytes(), usedforsecurity=False).hexdigest()
        assert digest[:12] in path.name


def test_modules_are_compressed_both_ways(collected):
    for name, path in hashed_modules(collected).items():
        if path.stat().st_size > 1000:
            assert path.with_name(f"{path.name}.br").exists(), name
            assert path.with_name(f"{path.name}.gz").exists(), name


def test_no_halfway_names_stay_behind(collected):
    root, names = collected
    left = {path.relative_to(root).as_posix() for path in (root / "js/field").glob("*.*.js")}
    assert left == {hashed for name, hashed in names.items() if name.startswith("js/field/")}


def test_a_packaged_script_is_left_as_it_is(collected):
    root, names = collected
    assert (root / names["vendor.js"]).read_text() == OTHER


def test_no_module_imports_its_importer():
    folder = Path(settings.BASE_DIR) / "static/js/field"
    imports = {path.name: IMPORTED.findall(path.read_text()) for path in folder.glob("*.js")}

    def walk(name, above):
        assert name not in above, " > ".join([*above, name])
        for other in imports[name]:
            walk(other, (*above, name))

    assert imports
    for name in imports:
        walk(name, ())


def test_comments_stay_at_home(collected):
    sources = Path(settings.BASE_DIR) / "static/js/field"
    for name, path in hashed_modules(collected).items():
        sent = path.read_text()
        assert not re.search(r"^\s*(//|/\*)", sent, re.MULTILINE), name
        assert len(sent) < len((sources / Path(name).name).read_text()), name


def test_nothing_left_out_stands_within_a_text():
    """A line of a text over several lines could begin like a comment."""
    for path in (Path(settings.BASE_DIR) / "static/js/field").glob("*.js"):
        script = path.read_text()
        left_out = [*LINES.finditer(script), *BLOCKS.finditer(script)]
        assert left_out, path.name
        for comment in left_out:
            assert script.count("`", 0, comment.start()) % 2 == 0, (path.name, comment[0])
            assert comment[0].count("`") % 2 == 0, (path.name, comment[0])


def test_no_text_goes_on_over_a_line_and_would_lose_its_indent():
    """A text may break within its ${...}, which is code, and nowhere else."""
    for path in (Path(settings.BASE_DIR) / "static/js/field").glob("*.js"):
        lines = bare(path.read_text()).splitlines()
        for opening in [line for line in lines if line.count("`") % 2][::2]:
            assert opening.rfind("${") > opening.rfind("}"), (path.name, opening)
        assert not any(line.endswith("\\") for line in lines), path.name


SCRIPT = """// Why.
const link = "https://example.org"; // Kept, being after code.
/** What
 * it gives. */
  // Deeper.
if (link) {
  half = 1 / 2;
}
"""


def test_only_whole_lines_of_comment_and_indents_are_left_out():
    assert bare(SCRIPT) == (
        'const link = "https://example.org"; // Kept, being after code.\n'
        "if (link) {\nhalf = 1 / 2;\n}\n"
    )
