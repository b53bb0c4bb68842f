"""Tags: one a line, read back by a reader, each a link that opens its line."""

from urllib.parse import unquote

import pytest
from django.urls import resolve, reverse

from apps.field import tags
from apps.field.queries import woodlot_slugs
from tests import qr
from tests.factories import woods

pytestmark = pytest.mark.django_db
BASE = "https://sugarhouse.local:8443"


@pytest.fixture
def lot(settings):
    settings.THAWLINE_ADDRESS = f"{BASE}/"
    return woods.woodlot("Home Hill")


def page(client, lot, **asked):
    return client.get(reverse("field:tags", args=[lot.pk]), asked)


def labels(found):
    return [tag.line.label for tag in found]


@pytest.mark.parametrize("label", ["L12", "7", "M-1", "North 3", "É1", "a" * 24, "50%", "A+B#?"])
def test_a_reader_reads_the_link_of_the_line_back(lot, label):
    woods.line(lot, label)
    (tag,) = tags.tags_of(lot, BASE)
    link = qr.read_data_uri(tag.code)
    assert link == tag.link
    assert link.startswith(f"{BASE}/field/line/home-hill/")


@pytest.mark.parametrize("label", ["L12", "North 3", "É1", "50%", "A+B#?", "A/3"])
def test_the_link_opens_the_line_it_is_for(client, lot, label):
    woods.line(lot, label)
    (tag,) = tags.tags_of(lot, BASE)
    path = tag.link.removeprefix(BASE)
    assert client.get(path).status_code == 200
    found = resolve(unquote(path))
    assert found.view_name == "field:phone_line"
    assert found.kwargs == {"woodlot": "home-hill", "label": label}


def test_the_longest_name_still_makes_a_code_that_a_reader_reads(settings):
    lot = woods.woodlot("x" * 80)
    woods.line(lot, "É" * 24)
    long = f"https://{'a' * 60}.{'b' * 60}.example:8443"
    (tag,) = tags.tags_of(lot, long)
    assert qr.read_data_uri(tag.code) == tag.link


def test_the_code_has_a_quiet_zone_of_four_modules(lot):
    """ISO/IEC 18004 asks for four modules of light around a symbol."""
    image = qr.painted(qr.svg_of(tags.qr_image(f"{BASE}/field/")))
    edge = 4 * qr.PIXELS_PER_MODULE
    for side in (image[:edge], image[-edge:], image[:, :edge], image[:, -edge:]):
        assert side.min() == 255
    assert image[edge, edge] == 0


def test_a_code_with_a_smudge_is_read_all_the_same(lot):
    """Correction M mends about 15 % of the symbol's words (ISO/IEC 18004): here 4 % of its area."""
    image = qr.painted(qr.svg_of(tags.qr_image(f"{BASE}/field/line/home-hill/L12/")))
    middle = image.shape[0] // 2
    span = image.shape[0] // 10
    image[middle - span : middle + span, middle - span : middle + span] = 255
    assert qr.read(image) == [f"{BASE}/field/line/home-hill/L12/"]


def test_tags_come_by_number(lot):
    for label in ("L10", "L2", "M1", "L1"):
        woods.line(lot, label)
    assert labels(tags.tags_of(lot, BASE)) == ["L1", "L2", "L10", "M1"]


@pytest.mark.parametrize(
    ("only", "expected"),
    [
        ("", ["L1", "L2", "North 3"]),
        ("L2", ["L2"]),
        ("l2, L1", ["L1", "L2"]),
        ("L1;L2 L9", ["L1", "L2"]),
        ("north 3", ["North 3"]),
        ("L", []),
        (" , ", []),
    ],
)
def test_a_lost_tag_is_printed_alone(lot, only, expected):
    for label in ("L1", "L2", "North 3"):
        woods.line(lot, label)
    assert labels(tags.tags_of(lot, BASE, only)) == expected


def test_other_woodlots_keep_out(lot):
    woods.line(lot, "L1")
    woods.line(woods.woodlot("Cold Brook"), "L2")
    assert labels(tags.tags_of(lot, BASE)) == ["L1"]


@pytest.mark.parametrize(
    ("names", "slugs"),
    [
        (["Home Hill", "home hill!"], ["home-hill", "home-hill-2"]),
        (["A 3", "A", "A!"], ["a-3", "a", "a-3-3"]),
        (["山", "!!"], ["woodlot", "woodlot-2"]),
    ],
)
def test_woodlots_alike_are_told_apart(names, slugs):
    rows = [woods.woodlot(name, pk=pk) for pk, name in enumerate(names, start=1)]
    found = woodlot_slugs()
    assert [found[row.pk] for row in rows] == slugs


def test_the_page_shows_each_tag_with_its_words(crew_client, lot):
    woods.line(lot, "L1")
    woods.line(lot, "L2")
    text = page(crew_client, lot).content.decode()
    assert text.count('<li class="tag">') == 2
    assert '<p class="tag-label">L2</p>' in text
    assert "sugarhouse.local:8443/field/line/home-hill/L2/</p>" in text
    assert "Not with this address" not in text


def test_the_page_warns_of_an_address_that_will_not_last(crew_client, lot, settings):
    settings.THAWLINE_ADDRESS = "http://192.168.1.20:8000"
    text = page(crew_client, lot).content.decode()
    assert "Not with this address: http://192.168.1.20:8000" in text
    assert "It is a number" in text
    assert "It is plain http" in text


@pytest.mark.parametrize(
    ("only", "words"), [("", "nothing to print"), ("L7", "No line of Home Hill is called that")]
)
def test_the_page_says_why_it_is_empty(crew_client, lot, only, words):
    assert words in page(crew_client, lot, only=only).content.decode()


def test_an_unknown_woodlot_is_not_found(crew_client):
    assert crew_client.get(reverse("field:tags", args=[404])).status_code == 404


@pytest.mark.parametrize("name", ["sheets", "tags", "paper", "paper_entry", "phone_help"])
def test_a_stranger_signs_in_first(client, lot, name):
    address = reverse(f"field:{name}", args=[] if name in ("sheets", "phone_help") else [lot.pk])
    reply = client.get(address)
    assert reply.status_code == 302
    assert resolve(reply.url.partition("?")[0]).view_name == "operation:sign_in"


@pytest.mark.parametrize("lines", [1, 30])
def test_questions_do_not_grow_with_the_lines(
    crew_client, lot, lines, django_assert_max_num_queries
):
    for number in range(lines):
        woods.line(lot, f"L{number}")
    with django_assert_max_num_queries(6) as seen:
        page(crew_client, lot)
    assert len(seen) == 6


def test_the_list_of_woodlots_leads_to_tags_paper_and_typing(crew_client, lot):
    woods.line(lot, "L1")
    empty = woods.woodlot("Cold Brook")
    text = crew_client.get(reverse("field:sheets")).content.decode()
    for name in ("tags", "paper", "paper_entry"):
        assert f'href="{reverse(f"field:{name}", args=[lot.pk])}"' in text
        assert f'href="{reverse(f"field:{name}", args=[empty.pk])}"' not in text


def test_without_woodlots_the_list_says_so(crew_client):
    assert "No woodlot yet" in crew_client.get(reverse("field:sheets")).content.decode()


def test_the_code_for_the_app_is_its_address(crew_client, lot):
    reply = crew_client.get(reverse("field:phone_help"))
    assert reply.context["link"] == f"{BASE}/field/"
    assert qr.read_data_uri(reply.context["code"]) == f"{BASE}/field/"
    text = reply.content.decode()
    for words in ("Add to Home Screen", "Install app", "Certificate Trust Settings", "ready for"):
        assert words in text
