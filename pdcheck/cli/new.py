"""``pdcheck new``: Make a rig file by answering questions, and judge it.

Meant by: init create make start wizard setup begin add-rig.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pdcheck.cli.options import json_option, kit_option
from pdcheck.errors import InputError
from pdcheck.parts.rig_questions import QUESTIONS, Question

if TYPE_CHECKING:
    from pdcheck.parts.kit import Kit
    from pdcheck.parts.rig import Rig
    from pdcheck.verdict.made import Made


def _options(function: Any) -> Any:
    for each in reversed(QUESTIONS):
        key, _, metavar = each.option.partition(" ")
        more = " (repeatable)" if key == "also" else ""
        told = f"{each.text} {each.meaning}{more}"
        function = click.option(f"--{key}", metavar=metavar, help=told, multiple=bool(more))(function)
    return function


@click.command("new")
@click.argument("rig", metavar="RIG")
@_options
@kit_option("Kit file to judge the rig on.")
@click.option("--yes", is_flag=True, help="Ask nothing: what no option says takes its default.")
@click.option("--fresh", is_flag=True, help="Do not go on from answers that are kept from before.")
@click.option("--replace", is_flag=True, help="Write over a file that is there.")
@json_option("new")
def command(rig: str, kit: str | None, yes: bool, fresh: bool, replace: bool, as_json: bool, **options: Any) -> int:
    """Ask what RIG, a new TOML file, is to be, write it with comments, and judge it.

    ? or "don't know" is an answer to every question. Ctrl-C loses none: the answers are kept beside RIG, and the same
    command goes on from there. Every answer is also an option. Exit code 1 where it works on nothing in the kit.

    \b
    pdcheck new pier-box.toml --kit kit.toml
    pdcheck new fan.toml --yes --output 12V@0.5A --converter buck:6-28V:3A:90% --trigger 15V
    """
    from pdcheck.cli.answering import answer, remark
    from pdcheck.cli.asking import all_answers, draft_path, is_draft, read_draft, write_draft
    from pdcheck.parts.rig import Rig
    from pdcheck.parts.rig_from_answers import rig_text
    from pdcheck.parts.writing import writable, write_whole

    target = Path(rig)
    if target.exists() and not replace:
        raise InputError("is there already", where=rig, expected="--replace, or another name")
    writable(rig)
    owned = _kit(kit) or _kit_beside(rig)
    given = _given(options)
    draft = draft_path(target)
    if not yes and draft.exists() and not is_draft(draft):
        what = "is there already and holds no answers, which would be kept in it"
        raise InputError(what, where=str(draft), expected="another name for RIG, or --yes")
    kept = {} if fresh else read_draft(draft)
    if kept and not yes:
        remark(f"Going on from {len(kept)} answers kept in {draft} (--fresh starts anew).")
    try:
        answers, usual = all_answers(
            {**kept, **given} if not yes else given,
            lambda question, so_far: _default(question, so_far, target, owned),
            lambda so_far: write_draft(draft, so_far),
            interactive=not yes,
            err=as_json,
        )
    except (click.Abort, KeyboardInterrupt, EOFError):
        count = len(read_draft(draft))
        click.echo(err=True)
        answered = "1 answer is" if count == 1 else f"{count} answers are"
        told = f"pdcheck: stopped; {answered} kept in {draft}, and the same command goes on from there"
        remark(told if count else "pdcheck: stopped")
        return 130
    text = rig_text(answers, usual)
    built = Rig.from_toml(text, rig)
    write_whole(rig, text)
    if is_draft(draft):
        draft.unlink(missing_ok=True)
    return answer(_made(rig, built, answers, usual, owned, kit), as_json)


def _kit(path: str | None) -> Kit | None:
    if path is None:
        return None
    from pdcheck.parts.kit import Kit
    from pdcheck.verdict.judge import FEWER_IN_KIT, MOST_PAIRS, few_pairs

    kit = Kit.read(path)
    few_pairs(kit, None, None, MOST_PAIRS, expected=FEWER_IN_KIT)
    return kit


def _kit_beside(rig: str) -> Kit | None:
    from pdcheck.asking.given import kit_beside
    from pdcheck.verdict.judge import MOST_PAIRS

    found = kit_beside(rig)
    return None if found is None or len(found.pairs()) > MOST_PAIRS else found


def _given(options: Mapping[str, Any]) -> dict[str, str]:
    """The answers that stand on the command line."""
    given = {key.replace("_", "-"): value for key, value in options.items() if value}
    if "also" in given:
        given["also"] = "; ".join(given["also"])
    return given


def _default(question: Question, answers: Mapping[str, str], target: Path, kit: Kit | None) -> str:
    """What an empty answer means; the title comes from the file's name, the trigger's voltage from the kit."""
    if question.key == "title":
        return target.stem.replace("-", " ").replace("_", " ").strip().capitalize() or "My build"
    if question.key == "trigger" and kit is not None:
        from pdcheck.parts.request import request_text
        from pdcheck.parts.rig import Rig
        from pdcheck.parts.rig_from_answers import rig_text
        from pdcheck.verdict.settings import PAIRS_TO_TRY, best_setting

        few = len(kit.pairs()) <= PAIRS_TO_TRY
        best = best_setting(Rig.from_toml(rig_text(answers)), kit) if few else None
        if best is not None and best.works:
            return request_text(best.request)
    return question.default(answers)


def _made(
    rig: str,
    built: Rig,
    answers: Mapping[str, str],
    usual: frozenset[str],
    kit: Kit | None,
    kit_path: str | None,
) -> Made:
    """The verdict: on every pair of the kit, else what to buy."""
    from pdcheck.asking.need import need
    from pdcheck.parts.rig_answers import is_unknown
    from pdcheck.parts.rig_from_answers import guessed
    from pdcheck.verdict.judge import judge_pairs, pairs_of
    from pdcheck.verdict.made import Answer, Made

    rows = [
        Answer(key, None if is_unknown(given) else given, guessed(key, answers, usual))
        for key, given in answers.items()
    ]
    found = () if kit is None else judge_pairs(built, pairs_of(kit))
    return Made(rig, tuple(rows), found, need(built) if kit is None else None, kit_path)
