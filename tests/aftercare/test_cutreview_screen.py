"""Cut review on screen, with a fake clock: one key an answer, a photograph, the verdict."""

from __future__ import annotations

from pathlib import Path

from aftercare_kit import EVENING, poured
from shown_kit import aftercare, typed

from soapbench.aftercare.cutreview import VERDICTS, Reach, reaches, review
from soapbench.desk.pourdesk import Desk
from soapbench.log import Kind, Outcome, standing
from soapbench.logfile.batchlog import read_log
from soapbench.ui.aftercare.review import CutReviewScreen
from soapbench.ui.aftercare.screen import AftercareScreen
from soapbench.ui.keyline import Tappable
from tests.fakes import FakeClock
from tests.photos.photo_kit import photograph, truth
from tests.waiting import worked_out


async def test_how_it_came_out_is_told_again_at_the_cut(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    desk.tell_outcome(Outcome.AS_PLANNED)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v")
        review = shown.app.screen
        assert isinstance(review, CutReviewScreen)
        assert "Finished as planned. Would you pour this again?" in shown.text("verdict")
        await shown.press("o", "2")
        assert review.desk.state.outcome is Outcome.IN_PART
        assert "Came out in part" in shown.text("verdict")
        await shown.press("u")
        assert review.desk.state.outcome is Outcome.AS_PLANNED


async def test_cut_review_one_key_an_answer(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v")
        assert isinstance(shown.app.screen, CutReviewScreen)
        await shown.press("3", "1", "2")  # foam, ember, edges of the middle
        await shown.press("left", "1")  # foam of the first end
        await shown.press("b", *typed("7"), "2")
        await shown.press("9")
        assert "1 to 3" in shown.text("said")
        await shown.press("p", *typed("gone.jpg"))
        await worked_out(shown.app)
        await shown.pilot.pause()
        assert "Photo not added: there is no such file" in shown.text("said")
        await shown.press("v", "2", "4", *typed("less ember"))
        facts = standing(read_log(shown.path).events)
        assert set(reaches(facts)) == {
            Reach("foam", "middle", "stayed on top"),
            Reach("ember", "middle", "to the bottom"),
            Reach("foam", "first end", "to the bottom"),
            Reach("foam", "bar 7", "half way"),
        }
        answers = review(facts)
        assert answers.photos == {}
        assert answers.verdict is not None
        assert (answers.verdict.verdict, answers.verdict.next_time) == (
            "again with a change",
            "less ember",
        )
        assert len(answers.verdict.next_swirl) == 1
        assert "again, with changes" in shown.text("verdict")
        await shown.press("u", "u", "u")
        assert Reach("foam", "bar 7", "half way") not in reaches(
            standing(read_log(shown.path).events)
        )
        await shown.press("escape")
        assert isinstance(shown.app.screen, AftercareScreen)


def snapshot(desk: Desk, file: Path) -> dict[str, str]:
    """A photograph of the batch's own face as it was poured; how far each accent came."""
    from PIL import Image

    from soapbench.barface.words import poured_showings

    loaf = poured_showings(desk.batch, desk.plan, desk.amounts, desk.known, desk.state)[0]
    picture, drawn = photograph(loaf.design, 3)
    file.parent.mkdir(exist_ok=True)
    Image.fromarray(picture).save(file, quality=90)
    reached = truth(drawn, len(desk.plan.pots))[1]
    pots = zip(desk.plan.pots, reached, strict=True)
    return {pot.name: came for pot, came in pots if pot is not desk.plan.base}


async def test_a_photograph_fills_the_review_in_and_one_key_corrects_it(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    camera = folder / "camera"
    came = snapshot(desk, camera / "IMG 1.jpg")
    before = (camera / "IMG 1.jpg").read_bytes()
    async with aftercare(desk, clock, (120, 40)) as shown:
        await shown.press("v")
        await shown.press("p", *typed(str(camera)))
        await worked_out(shown.app)
        await shown.pilot.pause()
        assert "answers filled in" in shown.text("said")
        answers = review(standing(read_log(shown.path).events))
        (kept,) = answers.photos["middle"]
        assert kept.startswith(f"photos/{shown.path.stem}/middle-")
        assert (folder / kept).read_bytes() == before
        assert (camera / "IMG 1.jpg").read_bytes() == before
        measured = {pot: answer for (_, pot), answer in answers.answers["middle"].items()}
        assert measured
        assert all(came[pot] == answer for pot, answer in measured.items() if pot)
        assert "from the photo, " in shown.text("questions")
        assert "In the photo (poured): " in shown.text("shares")
        (asked,) = [key for key in answers.by_photo["middle"] if key[1] == "foam"]
        corrected = "3" if measured["foam"] != "stayed on top" else "1"
        await shown.press("up", corrected)
        answers = review(standing(read_log(shown.path).events))
        assert asked not in answers.by_photo["middle"], "the maker's own now"
        assert answers.answers["middle"][asked] != measured["foam"]
        await shown.press("p", *typed(str(camera)))
        await worked_out(shown.app)
        await shown.pilot.pause()
        again = review(standing(read_log(shown.path).events))
        assert again.answers["middle"][asked] == answers.answers["middle"][asked], "and stays"
        await shown.press("f")
        await worked_out(shown.app)
        await shown.pilot.pause()
        rows = [shown.app.screen.query_one(f"#{id}").render_line(4) for id in ("photo", "drawn")]
        assert all(len(set(row.text.strip())) > 1 for row in rows), "signs: no colour in tests"
        await shown.press("r")
        await worked_out(shown.app)
        await shown.pilot.pause()
        turned = review(standing(read_log(shown.path).events)).photos["middle"]
        assert turned[0] == kept
        assert turned[-1] != kept
        assert (folder / kept).read_bytes() == before, "the picture it came of stays as it is"
        await shown.press("escape")
        assert isinstance(shown.app.screen, CutReviewScreen)


async def test_a_verdict_has_room_and_starts_from_what_was_said_before(folder: Path) -> None:
    clock = FakeClock(EVENING)
    _, desk = poured(folder, clock)
    clock.passes(40 * 3600)
    desk.record(Kind.CUT, bars=10)
    async with aftercare(desk, clock) as shown:
        await shown.press("v", "v")
        await shown.pilot.click(Tappable)  # the first answer, tapped
        await shown.press("escape", *typed("cooler, and three pots"))
        await shown.press("v", "1", "escape", *typed(" next time"))
        verdict = review(standing(read_log(shown.path).events)).verdict
        assert verdict is not None
        assert verdict.next_time == "cooler, and three pots next time"
        assert verdict.verdict == VERDICTS[0]
