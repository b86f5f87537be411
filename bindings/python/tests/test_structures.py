"""Push, infer, contributors, draw and judge."""

from __future__ import annotations

from typing import Any, Callable

import keyassay
import pytest
from banks import FAULTY, NESTED, SOUND


def test_push_says_what_the_program_says() -> None:
    push = keyassay.push(SOUND["start"], SOUND["arrows"])
    assert push.product == SOUND["answer"]
    assert [(own.atom, own.before, own.after) for own in push.charges] == [("C1", -1, 0), ("C2", 0, 0), ("O3", 0, -1)]
    assert push.ledger[-1] == "Net charge: -1 before, -1 after."
    assert push.findings == [] and "<svg" in push._repr_svg_() and "<svg" in push.drawing.svg


def test_errors_point_at_their_character() -> None:
    cases: list[tuple[Callable[[], Any], type[Exception], Any]] = [
        (lambda: keyassay.push("C(C", "1-2 -> 2"), keyassay.StructureError, 2),
        (lambda: keyassay.push("CC", "1-2 > 2"), keyassay.ArrowsError, 5),
        (lambda: keyassay.push("CC", "1-2 -> 9"), keyassay.ArrowsError, 8),
        (lambda: keyassay.push("CC", ""), keyassay.ArrowsError, None),
        (lambda: keyassay.infer("CC", "C[C"), keyassay.StructureError, 2),
        (lambda: keyassay.infer("CC", "CCC"), keyassay.ArrowsError, None),
        (lambda: keyassay.contributors("c1ccc1c"), keyassay.StructureError, 7),
        (lambda: keyassay.draw("C%"), keyassay.StructureError, 2),
        (lambda: keyassay.draw("CC", product=True), keyassay.KeyassayError, None),
        (lambda: keyassay.draw("CC", pairs="some"), ValueError, None),
    ]
    wrong: list[Any] = []
    for at, (call, error, column) in enumerate(cases):
        with pytest.raises(error) as raised:
            call()
        if column is not None and getattr(raised.value, "column", None) != column:
            wrong.append((at, str(raised.value), getattr(raised.value, "column", None), column))
    assert not wrong


def test_findings_are_no_exceptions() -> None:
    verdicts = [keyassay.judge(own) for own in (SOUND, FAULTY, NESTED, {**SOUND, "start": "C("}, {"id": "x", "prompt": "?"})]
    assert [own.verdict for own in verdicts] == ["sound", "faulty", "sound", "unreadable", "unreadable"]
    assert verdicts[1].findings[0].correction == SOUND["answer"]
    assert [own.finding for own in verdicts[1]][:1] == ["mismatched-product"]
    with pytest.raises(keyassay.KeyassayError, match="no question"):
        keyassay.judge({"start": "Total"})


def test_digests_tell_questions_and_answers_apart() -> None:
    own = keyassay.judge(SOUND).digest
    other = keyassay.judge(FAULTY).digest
    assert own is not None and other is not None
    assert own.question == other.question and own.answer != other.answer
    assert len(own.question) == len(own.answer) == 16
    assert keyassay.judge({**SOUND, "start": "C("}).digest is None


def test_judge_all_keeps_the_order_and_takes_tables() -> None:
    pandas = pytest.importorskip("pandas")
    bank = [SOUND, FAULTY] * 700
    for own in (bank, pandas.DataFrame(bank)):
        verdicts = keyassay.judge_all(own)
        assert [verdict.line for verdict in verdicts] == list(range(1, 1401))
        assert [verdict.verdict for verdict in verdicts] == ["sound", "faulty"] * 700


def test_a_drawing_is_shown_in_a_notebook() -> None:
    drawing = keyassay.draw(SOUND["start"], SOUND["arrows"], product=True, pairs="all", numbers=True)
    assert drawing._repr_svg_() == drawing.svg and drawing.svg.count("<svg") == 1
    contributors = keyassay.contributors(SOUND["start"])
    assert len(contributors) == 2 and contributors[0].rank == 1 and "<svg" in contributors._repr_svg_()
