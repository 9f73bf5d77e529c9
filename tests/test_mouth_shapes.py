import pytest

from dictate.chart.anatomy import SPECIES, anatomy_of, is_deciduous, tooth_kind
from dictate.report.mouth.shapes import form_of, outline

TEETH = [
    (species, tooth)
    for species in SPECIES
    for tooth in (*anatomy_of(species).permanent_teeth, *anatomy_of(species).deciduous_teeth)
]


@pytest.mark.parametrize(("species", "tooth"), TEETH)
def test_every_tooth_has_a_form_with_its_true_number_of_roots(species, tooth):
    """Numbers of roots: dictate/chart/species/*.toml."""
    counts = anatomy_of(species).root_counts(tooth)
    form = form_of(species, tooth)
    assert form.roots == max(counts)
    assert form.varies == (len(counts) > 1)
    tips = form.front_roots().count("Q")
    assert tips + bool(form.third_root()) == max(counts)


@pytest.mark.parametrize(
    ("species", "tooth", "roots"),
    [("dog", 108, 3), ("dog", 105, 1), ("dog", 309, 2), ("dog", 311, 1), ("cat", 107, 2)],
)
def test_known_numbers_of_roots(species, tooth, roots):
    """Dog: common practice, no source; cat: Bellows, Feline Dentistry."""
    form = form_of(species, tooth)
    assert form.front_roots().count("Q") + bool(form.third_root()) == roots


@pytest.mark.parametrize(("species", "tooth"), TEETH)
def test_outlines_lie_in_their_box_and_are_closed(species, tooth):
    form = form_of(species, tooth)
    for path in (form.side, form.top):
        assert path[0][0] == "M"
        assert "Z" in [letter for letter, _ in path]
        values = [
            pair for _, numbers in path for pair in zip(numbers[::2], numbers[1::2], strict=True)
        ]
        assert all(-0.55 <= x <= 0.55 and -0.6 <= y <= 1.1 for x, y in values)


@pytest.mark.parametrize(("species", "tooth"), TEETH)
def test_the_roots_begin_where_the_crown_ends(species, tooth):
    form = form_of(species, tooth)
    neck = abs(form.side[0][1][0]) * form.width
    first = outline(form.front_roots())[0][1][0]
    assert first == pytest.approx(-neck, abs=0.01)


@pytest.mark.parametrize(("species", "tooth"), TEETH)
def test_a_tooth_fits_the_room_along_its_arch_and_its_band(species, tooth):
    form = form_of(species, tooth)
    assert form.width <= form.room
    assert form.root_length <= 122
    assert form.height <= 86


@pytest.mark.parametrize("tooth", [108, 309])
def test_the_carnassials_of_dog_and_cat_differ(tooth):
    dog, cat = form_of("dog", tooth), form_of("cat", tooth)
    assert dog.side != cat.side
    assert dog.top != cat.top


def test_upper_and_lower_carnassials_premolars_and_molars_differ():
    for upper, lower in ((108, 309), (107, 307), (109, 310), (101, 301)):
        assert form_of("dog", upper).side != form_of("dog", lower).side


def test_the_kinds_of_tooth_in_a_jaw_have_outlines_of_their_own():
    for species in SPECIES:
        sides = {}
        for tooth in anatomy_of(species).permanent_teeth:
            if not is_deciduous(tooth):
                sides.setdefault(form_of(species, tooth).side, set()).add(tooth_kind(tooth))
        assert all(len(kinds) == 1 for kinds in sides.values())


def test_a_carnassial_is_the_widest_tooth_of_its_jaw():
    for species, position in (("dog", {108, 309}), ("cat", {108, 309})):
        for tooth in position:
            others = [t for t in anatomy_of(species).permanent_teeth if t // 100 == tooth // 100]
            assert max(others, key=lambda t: form_of(species, t).width) == tooth
