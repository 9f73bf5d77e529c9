import pytest
from textual.app import App

from dictate.screen.big import BigType
from dictate.screen.big_picture import picture_of
from dictate.screen.block_letters import SMALL, as_large_as_fits, largest, tall
from dictate.screen.theme import DARK
from dictate.speech.recogniser import DoubtfulWord, Hypothesis
from tests.screen_pilot import screen_of, session_of

SIZES = [(80, 24), (120, 40), (200, 60)]
CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
FIGURES = "0123456789"


class BigApp(App[None]):
    """The big type alone."""

    CSS = "Screen { background: $background; color: $foreground; }"

    def __init__(self):
        super().__init__()
        self.register_theme(DARK)
        self.theme = DARK.name

    def compose(self):
        big = BigType()
        big.display = True
        yield big


async def shown(session, hearing="listening", size=(80, 24)):
    app = BigApp()
    async with app.run_test(size=size) as pilot:
        big = app.query_one(BigType)
        big.hearing = hearing
        big.show(session)
        await pilot.pause()
        return screen_of(app).splitlines()


def has(lines, drawn):
    """Whether a drawing stands somewhere on a screen, line below line."""
    drawn = [each.rstrip() for each in drawn]
    width = max(len(line) for line in drawn)
    padded = [line.ljust(240) for line in lines]
    return any(
        all(
            padded[top + row][left : left + width].rstrip() == line
            for row, line in enumerate(drawn)
        )
        for top in range(len(lines) - len(drawn) + 1)
        for left in range(len(padded[top]) - width)
    )


def says(lines, words):
    """Whether words stand on a screen, in letters of any size."""
    drawn = [tall(scale).draw(words) for scale in range(1, 12)] + [SMALL.draw(words)]
    written = (words, " ".join(words))
    return any(has(lines, each) for each in drawn) or any(
        each.lower() in line.lower() for line in lines for each in written
    )


def in_doubt():
    session = session_of(phrases=["109 calculus 1"])
    session.hear(
        Hypothesis(
            "two oh eight calculus two pocket five",
            trust="doubtful",
            reason="“five” or “nine”?",
            engine="fake",
            doubtful_words=(DoubtfulWord(6, ("nine", "four")),),
        )
    )
    return session


@pytest.mark.parametrize("fount", [tall(1), SMALL], ids=["tall", "small"])
def test_every_letter_and_figure_is_drawn_and_none_looks_like_another(fount):
    drawings = {each: tuple(fount.draw(each)) for each in CAPITALS + FIGURES}
    assert len(set(drawings.values())) == 36
    for letter, lines in drawings.items():
        assert len(lines) == fount.lines
        assert {len(line) for line in lines} == {fount.width(letter)}


def test_letters_grow_with_the_room_and_never_beyond_it():
    before = 0
    for height in range(3, 40):
        lines = largest("208", 200, height)
        assert len(lines) <= height
        assert max(len(line) for line in lines) <= 200
        assert len(lines) >= before
        before = len(lines)
    assert before >= 30


def test_words_that_find_no_room_as_blocks_are_written_and_end_in_a_mark():
    words = "a sentence that is much too long for letters of blocks on two lines of a screen"
    assert as_large_as_fits(words, 40, 2) == [
        "a sentence that is much too long for",
        "letters of blocks on two lines of a …",
    ]
    assert as_large_as_fits("five or six?", 40, 1) == ["f i v e   o r   s i x ?"]
    assert as_large_as_fits("five or six?", 16, 2) == ["f i v e   o r", "s i x ?"]


@pytest.mark.parametrize("size, least", [((80, 24), 9), ((120, 40), 14), ((200, 60), 21)])
async def test_the_tooth_in_hand_is_as_large_as_the_screen_allows(size, least):
    lines = await shown(session_of(phrases=["208 pocket 6 mesial"]), size=size)
    tooth = [
        tall(scale).draw("208") for scale in range(1, 12) if has(lines, tall(scale).draw("208"))
    ]
    assert len(tooth) == 1
    assert len(tooth[0]) >= least


@pytest.mark.parametrize("size", SIZES)
async def test_the_last_finding_is_there_in_letters(size):
    session = session_of(phrases=["208 pocket 6 mesial", "209"])
    lines = await shown(session, size=size)
    assert says(lines, "208:") and says(lines, "pocket") and says(lines, "mesial")
    assert picture_of(session, "listening").finding == "208: pocket 6 mm mesial"


def test_the_number_of_the_tooth_in_hand_is_not_said_twice():
    picture = picture_of(session_of(phrases=["208 pocket 6 mesial"]), "listening")
    assert (picture.tooth, picture.finding) == ("208", "pocket 6 mm mesial")


@pytest.mark.parametrize("size", SIZES)
async def test_a_doubt_shows_its_question_and_all_that_may_be_meant(size):
    lines = await shown(in_doubt(), size=size)
    assert all(says(lines, word) for word in ("“five”", "or", "“nine”?"))
    assert all(says(lines, answer) for answer in ("YES", "2ND", "3RD"))
    assert all(says(lines, f"pocket {depth} mm") for depth in (5, 9, 4))


def test_a_doubt_about_another_tooth_names_it():
    session = session_of(phrases=["208 pocket 6", "208 pocket 7", "109"])
    picture = picture_of(session, "listening")
    assert picture.tooth == "109"
    assert picture.asked.readings == (("yes", "208: pocket 7 mm"),)


def test_other_doubts_are_counted():
    session = session_of(phrases=["208 pocket 6", "109 pocket 5", "208 pocket 7", "109 pocket 6"])
    assert picture_of(session, "listening").asked.more == 1


@pytest.mark.parametrize("size", SIZES)
async def test_a_refusal_is_shown_with_its_reason_beside_the_last_finding(size):
    session = session_of("cat", ["108 calculus 2", "205 normal"])
    lines = await shown(session, size=size)
    assert all(says(lines, word) for word in ("refused", "A", "cat", "has", "no", "205."))
    assert says(lines, "calculus 2")
    picture = picture_of(session, "listening")
    assert picture.remark == ("refused", "A cat has no 205.")
    assert picture.finding == "calculus 2"


def test_what_was_taken_back_is_no_last_finding():
    session = session_of(phrases=["208 calculus 2", "208 mobility 1", "undo"])
    picture = picture_of(session, "listening")
    assert picture.finding == "calculus 2"
    assert picture.remark == ("charted", "taken back: “208 mobility 1”")


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "hearing, sign, words",
    [
        ("listening", "●", "LISTENING"),
        ("waiting", "■", "NOT LISTENING"),
        ("stopped", "✗", "NOT LISTENING"),
        ("typing", "○", "TYPING ONLY"),
    ],
)
async def test_whether_it_listens_stands_on_top(size, hearing, sign, words):
    lines = (await shown(session_of(), hearing, size))[:4]
    assert sign in "".join(lines)
    assert says(lines, words)


@pytest.mark.parametrize("size", SIZES)
async def test_progress_is_a_bar_that_grows(size):
    lengths = []
    for phrases in ([], ["all teeth normal"]):
        lines = await shown(session_of(phrases=phrases), size=size)
        lengths.append(lines[-1].count("█"))
    assert lengths[0] == 0
    assert lengths[1] > size[0] // 2


@pytest.mark.parametrize("size", [*SIZES, (60, 16), (40, 10)])
@pytest.mark.parametrize(
    "session",
    [
        session_of(),
        session_of(phrases=["201 to 203", "calculus 2 gingivitis 2 mobility 1"]),
        session_of("cat", ["108 calculus 2", "205 normal"]),
        in_doubt(),
    ],
    ids=["empty", "several", "refused", "doubt"],
)
async def test_it_fits_every_screen(session, size):
    app = BigApp()
    async with app.run_test(size=size) as pilot:
        big = app.query_one(BigType)
        big.hearing = "listening"
        big.show(session)
        await pilot.pause()
        lines = big.render().plain.split("\n")
    assert len(lines) == size[1]
    assert all(len(line) <= size[0] for line in lines)


async def test_it_is_drawn_anew_when_the_session_goes_on():
    session = session_of(phrases=["208 calculus 2"])
    app = BigApp()
    async with app.run_test(size=(80, 24)) as pilot:
        big = app.query_one(BigType)
        big.hearing = "listening"
        big.show(session)
        await pilot.pause()
        before = screen_of(app)
        session.type_text("next tooth")
        big.show(session)
        await pilot.pause()
        assert screen_of(app) != before
        assert has(screen_of(app).splitlines(), tall(3).draw("209"))
