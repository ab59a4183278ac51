"""The page for the audit folder: read back by another library, and looked at by people."""

from __future__ import annotations

import io
from itertools import pairwise

import pytest
from pypdf import PdfReader

from data.exporters import week_pdf as pdf_module
from data.exporters.week_summary import deviations, turnarounds
from data.gather import read_week
from tests.send.cases import NEXT_WEEK, WEEK, Handheld, exported, three_weeks


def pages(content: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


def test_summary_then_exceptions_then_charts_then_every_cycle_then_room_to_sign() -> None:
    bench = three_weeks()
    text = "\n".join(pages(exported(WEEK)["week.pdf"]))
    order = ["week 2026-W48", "cycles ended", "Exceptions", "leak test failed", "Turnaround", "Every cycle on its own",
             "\nEvery cycle\n", "Reviewed", "signature"]  # fmt: skip
    places = [text.index(part) for part in order]
    assert places == sorted(places), dict(zip(order, places, strict=True))
    table = text[places[-3] : places[-2]].splitlines()
    for document in read_week(bench.journal, WEEK).documents():
        lines = [line for line in table if document["cycle"] in line]
        assert len(lines) == 1 and document["scope"]["tag"] in lines[0] and document["case"]["reference"] in lines[0]


def test_every_figure_of_a_family_stands_under_its_own_head() -> None:
    lines = "\n".join(pages(exported(WEEK)["week.pdf"])).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("family "))
    heads = "family|completed|voided|out of service|handed over|turnaround, median|9 of 10 below|hands-on, median"
    assert lines[at] == heads.replace("|", " ")
    # One completed and one voided cycle, none out of service, none handed over; then the times.
    assert lines[at + 1].startswith("bronchoscope 1 1 0 0 26:35 26:35 ")


def test_every_exception_of_every_cycle_is_on_it() -> None:
    bench = three_weeks()
    text = " ".join("\n".join(pages(bench.export(WEEK)["week.pdf"])).split())
    found = [one for document in read_week(bench.journal, WEEK).documents() for one in deviations(document)]
    whats = {one.what for one in found}
    assert "leak test failed" in whats and "voided: =1+1, wrong tag" in whats and "out of service: leak" in whats
    for one in found:
        assert one.what in text and one.cycle in text


def test_it_says_whether_the_week_is_complete() -> None:
    bench = three_weeks()
    assert "complete; record through line" in pages(bench.export(WEEK)["week.pdf"])[0]
    assert "week still open, as of 2026-12-0" in pages(bench.export(bench.journal.segments()[-1])["week.pdf"])[0]


def test_a_week_without_a_cycle_prints() -> None:
    bench = Handheld()
    (text,) = pages(bench.export(WEEK)["week.pdf"])
    assert "No cycle ended in this week." in text and "Reviewed" in text


def test_turnaround_is_receipt_to_end_of_completed_cycles() -> None:
    documents = read_week(three_weeks().journal, WEEK).documents()
    (only,) = turnarounds(documents)
    done = next(d for d in documents if d["outcome"]["outcome"] == "completed")
    assert (only.family, len(only.times_s)) == ("bronchoscope", 1)
    start, end = (d[11:19].split(":") for d in (done["received"]["at"], done["outcome"]["at"]))
    seconds = [int(h) * 3600 + int(m) * 60 + int(s) for h, m, s in (start, end)]
    assert abs(only.median_s - (seconds[1] - seconds[0])) < 1


@pytest.mark.parametrize("fonts", [True, False])
def test_hostile_and_foreign_texts_print(monkeypatch, fonts) -> None:
    if not fonts:
        monkeypatch.setattr(pdf_module, "_font_folder", lambda: None)
    bench = Handheld()
    bench.must("set-unit", "unit", name="Endoskopie Süd, Ελλάδα, Москва")
    bench.receive("B2", case="26-0815")
    bench.wait(1)
    bench.must("void", "B2", reason="**b** <i>x</i> \u202e {nb} " + "lang " * 30)
    text = " ".join("\n".join(pages(bench.export(WEEK)["week.pdf"])).split())
    assert ("Endoskopie Süd, Ελλάδα, Москва" in text) is fonts
    assert "Endoskopie Süd" in text and "**b** <i>x</i>" in text and text.count("lang") == 30


def test_the_same_record_prints_the_same_bytes_and_another_does_not() -> None:
    bench = three_weeks()
    assert bench.export(WEEK)["week.pdf"] == bench.export(WEEK)["week.pdf"]
    assert bench.export(WEEK)["week.pdf"] != bench.export(NEXT_WEEK)["week.pdf"]


def places(content: bytes) -> list[list[tuple[float, float, str]]]:
    """Every piece of text on every page: from the left, from the foot (points), and what it says."""
    found = []
    for page in PdfReader(io.BytesIO(content)).pages:
        texts: list[tuple[float, float, str]] = []
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, _size, texts=texts: texts.append((tm[4], tm[5], text.strip()))
        )
        found.append([one for one in texts if one[2]])
    return found


def test_labels_of_an_axis_stand_apart_however_long_a_cycle_was_forgotten() -> None:
    bench = Handheld()
    bench.take_to("B2", "inspect")
    bench.wait(60 * 86_400)
    bench.take_to("B2", "disinfectant-soak")
    bench.must("void", "B2", reason="forgotten for two months")
    content = bench.export(bench.journal.segments()[-1])["week.pdf"]
    axes: dict[tuple[int, float], list[float]] = {}
    for number, page in enumerate(places(content)):
        for x, y, text in page:
            if text == "0:00" or (text.count(":") == 2 and text.replace(":", "").isdigit()):
                axes.setdefault((number, y), []).append(x)
    marks = sorted(max(axes.values(), key=len))
    assert len(marks) > 3 and min(b - a for a, b in pairwise(marks)) > 30, marks


def test_rows_of_exceptions_do_not_run_into_each_other() -> None:
    bench = Handheld()
    bench.must("add-person", "anneliese von der schreibstube am markt", name="Anneliese", role="technician")
    bench.receive("B2", case="26-0815")
    for number in range(3):
        bench.wait(1)
        said = {"what": "other", "text": f"note {number}"}
        bench.must("note", "B2", by="anneliese von der schreibstube am markt", **said)
    bench.wait(1)
    bench.must("void", "B2", reason="wrong tag")
    (first, *_) = places(bench.export(WEEK)["week.pdf"])
    starts = sorted((y for _, y, text in first if text.startswith("note, other: note")), reverse=True)
    ends = [y for _, y, text in first if text.endswith("markt")]
    assert len(starts) == len(ends) == 3
    assert all(end > start for end, start in zip(sorted(ends, reverse=True), starts[1:], strict=False)), (starts, ends)
