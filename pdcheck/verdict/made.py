"""Made: a rig file made from answers, judged on a kit, or with what to buy for it where there is none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pdcheck.marks import UNTOLD
from pdcheck.named import NamedTuple
from pdcheck.result import Result
from pdcheck.verdict.judge import Judgement
from pdcheck.verdict.need.around import Needs


class Answer(NamedTuple):
    """What was answered to a question; None where nobody knew, and whether the file then has a guess."""

    question: str
    answer: str | None
    guessed: bool


@dataclass(frozen=True, repr=False)
class Made(Result):
    """A rig file, the answers that it is made from, and the rig on every pair of the kit."""

    SCHEMA: ClassVar[str] = "new/3"
    TITLE: ClassVar[str] = "A rig file made from answers"
    SHOWN: ClassVar[str] = "new"
    ROWS: ClassVar[tuple[str, ...]] = ("results",)

    rig: str
    answers: tuple[Answer, ...]
    results: tuple[Judgement, ...]
    needs: Annotated[Needs | None, UNTOLD]
    kit: Annotated[str | None, UNTOLD] = None

    @property
    def works(self) -> bool:
        """Whether it works on anything in the kit; true where there is no kit."""
        return self.needs is not None or any(each.works for each in self.results)

    def answer(self) -> str:
        """On how many pairs it works, or what to buy."""
        if self.needs is not None:
            return self.needs.answer()
        return f"{self.rig}: works on {sum(each.works for each in self.results)} of {len(self.results)} pairs"
