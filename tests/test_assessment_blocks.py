import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.blocks import blocks_for, regional_blocks
from dictate.chart.anatomy import anatomy_of, is_left, is_upper


def reached(species, *teeth, **more):
    return {(b.block, b.quadrant): (b.teeth, b.perhaps) for b in blocks_for(species, teeth, **more)}


def cautions(species, *teeth, **more):
    return " ".join(c for b in blocks_for(species, teeth, **more) for c in b.cautions)


def test_an_upper_carnassial_is_reached_by_the_caudal_maxillary_block_alone():
    # Source: regional blocks, extents: common practice, no source.
    assert set(reached("dog", 208)) == {("caudal_maxillary", 2)}


def test_an_upper_canine_is_reached_by_either_upper_block():
    # Source: regional blocks, extents: common practice, no source.
    assert set(reached("dog", 104)) == {("infraorbital", 1), ("caudal_maxillary", 1)}


def test_a_lower_molar_is_reached_by_the_inferior_alveolar_block_alone():
    # Source: regional blocks, extents: common practice, no source.
    assert set(reached("dog", 409)) == {("inferior_alveolar", 4)}


def test_a_tooth_that_a_block_reaches_in_some_animals_only_is_kept_apart():
    # Source: extent varies between animals: common practice, no source.
    assert reached("dog", 304, 306)["mental", 3] == ((304,), (306,))


def test_blocks_come_by_quadrant():
    assert [b.quadrant for b in blocks_for("dog", [409, 108, 308, 208])] == [1, 2, 3, 4]


def test_teeth_are_given_once_from_the_midline():
    assert reached("dog", 210, 208, 208)["caudal_maxillary", 2] == ((208, 210), ())


def test_a_deciduous_tooth_is_blocked_with_its_side():
    assert ("mental", 4) in reached("dog", 804)


def test_a_tooth_that_the_species_lacks_is_refused():
    with pytest.raises(ValueError, match="A cat has no 205"):
        blocks_for("cat", [205])


@pytest.mark.parametrize(
    ("species", "short_nosed", "cautioned"),
    [("dog", False, False), ("dog", True, True), ("cat", False, True)],
)
def test_cats_and_short_nosed_dogs_are_cautioned_about_the_infraorbital_canal(
    species, short_nosed, cautioned
):
    # Source: short canal under the eye: common practice, no source.
    said = cautions(species, 104, short_nosed=short_nosed)
    assert ("lies under the eye" in said) is cautioned


def test_an_animal_is_short_nosed_only_where_that_is_said():
    assert blocks_for("dog", [104]) == blocks_for("dog", [104], short_nosed=False)
    assert blocks_for("dog", [104]) != blocks_for("dog", [104], short_nosed=True)


def test_teeth_of_both_dentitions_are_listed_from_the_midline():
    # Source: modified Triadan system, Floyd 1991: the place counts, whichever dentition.
    (block,) = (b for b in blocks_for("dog", [108, 507]) if len(b.teeth) == 2)
    assert block.teeth == (507, 108)


def test_a_planned_block_carries_the_title_and_the_source_of_its_row():
    rows = {row.block: row for row in regional_blocks()}
    planned = blocks_for("dog", [104, 308])
    assert [(each.title, each.source) for each in planned] == [
        (rows[each.block].title, rows[each.block].source) for each in planned
    ]


def test_the_extent_of_the_mental_block_is_cautioned_about():
    # Source: extent varies between animals: common practice, no source.
    assert "varies between animals" in cautions("dog", 304)


def test_no_block_ships_a_dose():
    words = " ".join(
        [block.title + block.source for block in regional_blocks()]
        + [caution.sentence for block in regional_blocks() for caution in block.caution]
    )
    assert not any(unit in words for unit in (" mg", " ml", " mL", "mg/kg"))


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_the_table_names_only_teeth_that_the_species_has(species):
    # Source: modified Triadan system, Floyd 1991.
    jaws = anatomy_of(species).permanent
    for block in regional_blocks():
        positions = (*block.reaches[species], *block.perhaps.get(species, ()))
        assert set(positions) <= set(getattr(jaws, block.jaw))


@pytest.mark.parametrize("species", ["dog", "cat"])
@given(data=st.data())
def test_every_tooth_is_reached_by_a_block_of_its_own_jaw_and_side(species, data):
    anatomy = anatomy_of(species)
    tooth = data.draw(st.sampled_from((*anatomy.permanent_teeth, *anatomy.deciduous_teeth)))
    found = [each for each in blocks_for(species, [tooth]) if tooth in each.teeth]
    assert found
    assert all((each.quadrant in (2, 3)) is is_left(tooth) for each in found)
    assert all((each.quadrant in (1, 2)) is is_upper(tooth) for each in found)
