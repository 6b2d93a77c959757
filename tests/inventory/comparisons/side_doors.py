"""Ways round Python into the tables of judgements and comparisons; the database refuses each."""

from collections.abc import Callable

from django.utils import timezone

from inventory.comparisons.actions.comparison_facts import CriterionFacts
from inventory.comparisons.actions.comparisons import finish, open_arms
from inventory.comparisons.models import Comparison, PhotoCount, PhotoMark, Score
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.models import Flaw, JudgedFlaw, Pour, PourJudgement, SessionPhoto
from tests.inventory.comparisons.boards import Boards, give, make_comparison
from tests.inventory.forging import POSTGRESQL, Attempt, Scene, run
from tests.inventory.side_doors import truncate
from tests.making import make_submission


def scored() -> Comparison:
    """A comparison of two boards, scored once."""
    comparison = make_comparison(Boards().pour(1))
    give(comparison, [[7], [5]])
    return comparison


def finished() -> Comparison:
    return finish(comparison=scored(), submission=make_submission())


def score_after_the_end() -> None:
    finished()
    score = Score.objects.latest("pk")
    score.pk = None
    score.save()


def change_a_score() -> None:
    scored()
    Score.objects.update(value=9_000)


def delete_scores() -> None:
    scored()
    Score.objects.all().delete()


def reopen() -> None:
    Comparison.objects.filter(pk=finished().pk).update(finished_at=None)


def hide_again() -> None:
    opened = open_arms(comparison=make_comparison(None, is_blind=True), submission=make_submission())
    Comparison.objects.filter(pk=opened.pk).update(opened_at=None, opened_by=None)


def judge(scene: Scene) -> None:
    """A pour that failed, with a flaw."""
    facts = JudgementFacts(scene.pour, Pour.Outcome.FAILED, flaws=list(Flaw.objects.all()[:1]))
    judge_pours(judgements=[facts], submission=make_submission())


def after_judging(go: Callable[[], object]) -> Callable[[Scene], object]:
    def judge_first(scene: Scene) -> None:
        judge(scene)
        go()

    return judge_first


def truncate_scores(_scene: Scene) -> None:
    scored()
    truncate("inventory_score")


def counted(*, is_finished: bool = True) -> PhotoCount:
    """A count with one mark, on a photo without a file."""
    comparison = make_comparison(Boards().pour(1), criteria=[CriterionFacts("Cells", scale="counted")])
    compared, criterion = comparison.pours.all()[0], comparison.criteria.get()
    at = timezone.now()
    judge = comparison.judges.get()
    photo = SessionPhoto.objects.create(
        session=compared.pour.session, photo="none.jpg", digest="0" * 64, added_at=at, added_by=judge
    )
    sizes = {"height": 9_000, "width": 9_000, "side": 900, "squares": 25, "seed": 1}
    drawn = {"corners": [[0, 0]] * 4, "places": [[0, 0]], "started_at": at}
    count = PhotoCount.objects.create(
        pour=compared, criterion=criterion, photo=photo, stage="wet", judge=judge, **sizes, **drawn
    )
    PhotoMark.objects.create(count=count, key="a", x=1, y=1)
    if is_finished:
        PhotoCount.objects.update(finished_at=at)
    return count


def tried(go: Callable[[PhotoCount], object], *, is_finished: bool = True) -> Callable[[Scene], object]:
    return lambda _scene: go(counted(is_finished=is_finished))


CHANGED, DELETED = "what was judged is never changed", "what was judged is never deleted"
KEPT = "a count keeps its photo, its windows and its end"
ATTEMPTS = {
    "score_insert": [
        Attempt("one more after the end", lambda _s: score_after_the_end(), "takes no more scores")
    ],
    "score_update": [Attempt("update()", lambda _s: change_a_score(), "a score is never changed")],
    "score_delete": [Attempt("delete()", lambda _s: delete_scores(), "a score is never deleted")],
    "score_no_truncate": [Attempt("TRUNCATE", truncate_scores, "a score is never deleted", only=POSTGRESQL)],
    "judgement_update": [
        Attempt("update()", after_judging(lambda: PourJudgement.objects.update(notes="x")), CHANGED)
    ],
    "judgement_delete": [
        Attempt("raw", after_judging(lambda: run("DELETE FROM inventory_pourjudgement")), DELETED)
    ],
    "judgement_no_truncate": [
        Attempt(
            "TRUNCATE",
            after_judging(lambda: truncate("inventory_pourjudgement, inventory_judgedflaw")),
            DELETED,
            only=POSTGRESQL,
        )
    ],
    "judgedflaw_update": [
        Attempt(
            "update()",
            after_judging(lambda: JudgedFlaw.objects.update(flaw=Flaw.objects.latest("pk"))),
            CHANGED,
        )
    ],
    "judgedflaw_delete": [
        Attempt("delete()", after_judging(lambda: JudgedFlaw.objects.all().delete()), DELETED)
    ],
    "judgedflaw_no_truncate": [
        Attempt("TRUNCATE", after_judging(lambda: truncate("inventory_judgedflaw")), DELETED, only=POSTGRESQL)
    ],
    "photocount_update": [
        Attempt(
            "windows drawn anew", tried(lambda _c: PhotoCount.objects.update(seed=2), is_finished=False), KEPT
        ),
        Attempt("finished twice", tried(lambda _c: PhotoCount.objects.update(finished_at=None)), KEPT),
    ],
    "photocount_delete": [
        Attempt(
            "raw",
            tried(lambda _c: run("DELETE FROM inventory_photocount")),
            "a finished count is never deleted",
        )
    ],
    "photocount_no_truncate": [
        Attempt(
            "TRUNCATE",
            tried(lambda _c: truncate("inventory_photocount, inventory_photomark, inventory_score")),
            "finished count",
            only=POSTGRESQL,
        )
    ],
    "photomark_insert": [
        Attempt(
            "one more",
            tried(lambda count: PhotoMark.objects.create(count=count, key="b", x=2, y=2)),
            "takes no more marks",
        )
    ],
    "photomark_update": [
        Attempt("update()", tried(lambda _c: PhotoMark.objects.update(x=3), is_finished=False), "never moved")
    ],
    "photomark_delete": [
        Attempt("delete()", tried(lambda _c: PhotoMark.objects.all().delete()), "keeps its marks")
    ],
    "photomark_no_truncate": [
        Attempt(
            "TRUNCATE", tried(lambda _c: truncate("inventory_photomark")), "keeps its marks", only=POSTGRESQL
        )
    ],
    "comparison_opened": [Attempt("hidden again", lambda _s: hide_again(), "stays on record")],
    "comparison_finished": [Attempt("opened again", lambda _s: reopen(), "stays finished")],
}
