"""The board as text: read back with the standard library's HTML parser and compared with the plan.

Rules of the page: HTML Living Standard (unique ids, labels, scopes), Content Security Policy level 3 (hashes of
inline script and style), WCAG 2.2 (1.3.1 headings and tables, 3.1.1 language). What needs a browser is in
test_sheet_board_browser.py.
"""

from __future__ import annotations

import base64
import hashlib
import html
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.engine.outlook import Outlook
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import Finding, OutputError
from forcing.model import Lot, PlaceLoad, Plan, Season, Task
from forcing.reports.board import board_html, opening_words, write_board
from forcing.reports.style import long_date, short_date
from tests.effort import growth
from tests.sample import sample_plan

CREATED = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
VOID = {"meta", "link", "input", "br", "img"}
NASTY = "\"><script>alert(1)</script><img src=x onerror=alert(2)>&amp;'{{ 7*7 }}"


@dataclass
class Node:
    """An element of the page with its children in order; text is a str."""

    tag: str
    attributes: dict[str, str | None]
    parent: Node | None = None
    children: list[Node | str] = field(default_factory=list)

    def walk(self) -> Iterator[Node]:
        yield self
        for child in self.children:
            if isinstance(child, Node):
                yield from child.walk()

    def all(self, tag: str, **wanted: str) -> list[Node]:
        return [
            n
            for n in self.walk()
            if n.tag == tag and all(n.attributes.get(k) == v for k, v in wanted.items())
        ]

    def having(self, name: str, value: str | None = None) -> list[Node]:
        return [
            n for n in self.walk()
            if name in n.attributes and (value is None or value in (n.attributes[name] or "").split())
        ]  # fmt: skip

    @property
    def text(self) -> str:
        return " ".join("".join(self._words()).split())

    def _words(self) -> Iterator[str]:
        if self.tag == "br":
            yield " "
        for child in self.children:
            if isinstance(child, str):
                yield child
            else:
                yield from child._words()


class Reader(HTMLParser):
    """Builds the tree, and complains where an end tag does not fit."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.at = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute twice on {tag}"
        node = Node(tag, dict(attrs), self.at)
        self.at.children.append(node)
        if tag not in VOID:
            self.at = node

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.at.children.append(Node(tag, dict(attrs), self.at))

    def handle_endtag(self, tag: str) -> None:
        assert tag == self.at.tag, f"</{tag}> where {self.at.tag} is open"
        assert self.at.parent is not None
        self.at = self.at.parent

    def handle_data(self, data: str) -> None:
        self.at.children.append(data)


def read(text: str) -> Node:
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.at is reader.root, f"{reader.at.tag} is never closed"
    return reader.root


def some_outlooks(plan: Plan) -> tuple[Outlook, ...]:
    """An outlook of every lot, from two days early to two days late in turn."""
    found = []
    for i, planned in enumerate(plan.lots):
        likely = planned.target + timedelta(days=i % 5 - 2)
        found.append(
            Outlook(planned.lot.name, plan.on, "in the cold", "bud" if i % 7 == 3 else None, 0.0, 350.0,
                    likely - timedelta(days=4), likely, likely + timedelta(days=5), planned.target, 0.25, "stated")
        )  # fmt: skip
    return tuple(found)


def page(plan: Plan, outlooks: Sequence[Outlook] | None = None) -> Node:
    seen = some_outlooks(plan) if outlooks is None else outlooks
    return read(board_html(plan, seen, created=CREATED))


@pytest.fixture(scope="module")
def thirty() -> tuple[Plan, Node]:
    plan = sample_plan(30)
    return plan, page(plan)


# ---------------------------------------------------------------- the page


def test_language_title_and_one_top_heading(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    assert root.all("html")[0].attributes["lang"] == "en"
    assert root.all("title")[0].text == f"{plan.season.title}: board of W45, Mon 2 Nov – Sun 8 Nov 2026"
    assert [h.text for h in root.all("h1")] == [plan.season.title]


def test_headings_go_down_one_level_at_a_time(thirty: tuple[Plan, Node]) -> None:
    levels = [int(n.tag[1]) for n in thirty[1].walk() if re.fullmatch(r"h[1-6]", n.tag)]
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels)), levels


def test_ids_are_unique_and_every_reference_meets_one(thirty: tuple[Plan, Node]) -> None:
    root = thirty[1]
    ids = [n.attributes["id"] for n in root.having("id")]
    assert len(set(ids)) == len(ids)
    wanted = [n.attributes["href"] or "" for n in root.having("href") if n.tag != "link"]
    wanted += ["#" + (n.attributes["aria-labelledby"] or "") for n in root.having("aria-labelledby")]
    wanted += re.findall(r"url\((#\w+)\)", root.all("style")[0].text)
    assert wanted
    assert all(w.startswith("#") and w[1:] in ids for w in wanted), wanted


def test_tables_have_captions_and_scoped_headers(thirty: tuple[Plan, Node]) -> None:
    tables = thirty[1].all("table")
    assert len(tables) == 3
    for table in tables:
        assert table.all("caption")[0].text
        assert all(th.attributes["scope"] == "col" for th in table.all("thead")[0].all("th"))
        columns = len(table.all("thead")[0].all("th"))
        for row in table.all("tbody")[0].all("tr"):
            assert [th.attributes["scope"] for th in row.all("th")] == ["row"]
            assert len(row.all("th")) + len(row.all("td")) == columns


def test_every_control_stands_in_a_label(thirty: tuple[Plan, Node]) -> None:
    controls = [n for n in thirty[1].walk() if n.tag in ("input", "select")]
    assert len(controls) > 2
    for control in controls:
        assert control.parent is not None and control.parent.tag == "label" and control.parent.text


def test_the_policy_names_the_only_script_and_style_and_nothing_else_is_allowed(
    thirty: tuple[Plan, Node],
) -> None:
    root = thirty[1]
    policy = next(n for n in root.all("meta") if n.attributes.get("http-equiv") == "Content-Security-Policy")
    rules = dict(part.strip().split(" ", 1) for part in (policy.attributes["content"] or "").split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    for tag in ("script", "style"):
        (only,) = root.all(tag)
        digest = hashlib.sha256("".join(map(str, only.children)).encode()).digest()
        assert rules[f"{tag}-src"] == f"'sha256-{base64.b64encode(digest).decode()}'"
    assert rules["img-src"] == "data:"


def test_nothing_is_loaded_and_no_attribute_is_code(thirty: tuple[Plan, Node]) -> None:
    for node in thirty[1].walk():
        for name, value in node.attributes.items():
            assert not name.startswith("on") and name not in ("src", "style", "srcset", "action"), node
            assert not re.search(r"(?i)\b(https?|javascript|ftp):|//", value or ""), (node.tag, name, value)
    style = thirty[1].all("style")[0].text
    assert "@import" not in style and "//" not in style and "@font-face" not in style


# ---------------------------------------------------------------- against the plan


def test_header_says_show_days_to_opening_and_the_day_of_the_plan(thirty: tuple[Plan, Node]) -> None:
    # 3 November to 20 March: 27 + 31 + 31 + 28 + 20 = 137 days.
    words = thirty[1].all("header")[0].text
    assert "137 days to opening, Sat 20 Mar 2027" in words
    assert "Show Sat 20 Mar 2027 – Sun 2 May 2027" in words  # the span ends on 3 May, half-open
    assert "As of Tue 3 Nov 2026" in words
    assert "30 lots planned, 1 not planned" in words


@pytest.mark.parametrize(
    ("on", "big", "small"),
    [
        (date(2027, 3, 18), "2", "days to opening, Sat 20 Mar 2027"),
        (date(2027, 3, 19), "1", "day to opening, Sat 20 Mar 2027"),
        (date(2027, 3, 20), "Open", "day 1 of 44, until Sun 2 May 2027"),
        (date(2027, 5, 2), "Open", "day 44 of 44, until Sun 2 May 2027"),
        (date(2027, 5, 3), "Closed", "since Mon 3 May 2027"),
        (date(2022, 1, 1), "1,904", "days to opening, Sat 20 Mar 2027"),  # 5 × 365 + 1 leap day + 78
    ],
)
def test_days_to_opening_at_every_edge(on: date, big: str, small: str) -> None:
    assert opening_words(Span(date(2027, 3, 20), date(2027, 5, 3)), on) == (big, small)


def test_the_weeks_tasks_are_those_of_the_plan(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    week = Span(date(2026, 11, 2), date(2026, 11, 9))
    mine = [t for t in plan.tasks if t.date in week or (t.state == "overdue" and t.date < week.start)]
    jobs = root.having("data-job")
    assert len(jobs) == len(mine) == len(root.all("input", type="checkbox"))
    for task in mine:
        found = [j for j in jobs if task.lot in j.text.split() and j.text.startswith(task.task.capitalize())]
        assert len(found) == 1, task
        assert f"{task.pots:g} pots" in found[0].text
        kind = found[0].parent.parent  # type: ignore[union-attr]
        mind = f". Mind: {', '.join(task.cautions)}" if task.cautions else ""
        assert (
            kind is not None and kind.all("p")[0].text == f"{task.task.capitalize()}: {task.look_for}{mind}"
        )
        if task.state == "overdue":  # 17 August to 3 November: 14 + 30 + 31 + 3 = 78 days
            assert "Mon 17 Aug, 78 days late" in found[0].text


def test_a_task_is_under_its_day_and_place(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    for task in (t for t in plan.tasks if date(2026, 11, 2) <= t.date < date(2026, 11, 9)):
        (job,) = (
            j for j in root.having("data-job")
            if task.lot in j.text.split() and j.text.startswith(task.task.capitalize())
        )  # fmt: skip
        by_place = job.parent.parent.parent  # type: ignore[union-attr]
        assert by_place is not None and by_place.parent is not None
        assert by_place.all("h4")[0].text == (task.place or task.to or "Potting")
        assert by_place.parent.all("h3")[0].text.startswith(short_date(task.date))
        # under its place a task says only where the pots go from there
        assert ("→" in job.text) == bool(task.place and task.to)


@pytest.mark.parametrize(("number", "few"), [(12, "1"), (13, None)])
def test_many_overdue_tasks_do_not_push_the_week_away(number: int, few: str | None) -> None:
    plan = sample_plan(30)
    old = next(t for t in plan.tasks if t.state == "overdue")
    more = tuple(replace(old, key=f"order/T001/{i}") for i in range(2, number + 1))
    root = section(page(replace(plan, tasks=(*more, *plan.tasks))), "week")
    late = root.all("details")[0]
    assert late.all("h3")[0].text.startswith("Overdue from earlier weeks")
    assert late.attributes.get("data-few") == few  # what is not few is folded by the script
    assert len(root.having("data-job")) == 18 + number


def test_states_of_tasks_are_said() -> None:
    base = sample_plan(1)

    def task(turn: int, day: int, state: str) -> Task:
        return Task(f"turn and space/T001/{turn}", date(2026, 11, day), "T001", "turn and space", 12, 0.2, "Bench 1",
                    state=state)  # type: ignore[arg-type]  # fmt: skip

    tasks = (
        task(1, 2, "done"),
        task(2, 2, "not logged"),
        task(3, 3, "due"),
        task(4, 2, "overdue"),
        task(5, 4, "planned"),
    )
    root = page(replace(base, tasks=tasks))
    words = [job.text for job in root.having("data-job")]
    assert [w.split("12 pots")[1].strip(" ·") for w in words] == [
        "done, as logged", "not logged", "1 day late", "", "",
    ]  # fmt: skip
    # What is logged as done has nothing to tick: a mark instead.
    assert len(root.all("input", type="checkbox")) == 4
    assert words[0].startswith("✓")


def test_keys_of_ticks_are_one_a_task_and_the_same_from_plan_to_plan() -> None:
    plan = sample_plan(30)
    keys = [n.attributes["data-key"] for n in page(plan).having("data-key")]
    assert len(set(keys)) == len(keys)
    later = replace(plan, on=plan.on + timedelta(days=2), tasks=tuple(reversed(plan.tasks)))
    assert {n.attributes["data-key"] for n in page(later).having("data-key")} == set(keys)


def test_each_lot_has_its_line_with_every_step_where_the_days_put_it(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    lots = {n.all("b")[0].text: n for n in root.all("details", **{"class": "lot"})}
    assert lots.keys() == {p.lot.name for p in plan.lots}
    first = min(s.span.start for p in plan.lots for s in p.steps)
    first -= timedelta(days=first.weekday())
    last = max(date(2027, 5, 2), *(s.span.end - timedelta(days=1) for p in plan.lots for s in p.steps))
    days = ((last - timedelta(days=last.weekday()) + timedelta(days=7)) - first).days
    for planned in plan.lots:
        node = lots[planned.lot.name]
        bars = [r for r in node.all("rect") if r.attributes["class"] not in ("lg", "bd")]
        assert len(bars) == len(planned.steps) == len(node.all("li"))
        for step, bar, item in zip(planned.steps, bars, node.all("li"), strict=True):
            assert percents(bar, "x") == pytest.approx(100 * (step.span.start - first).days / days, abs=0.006)
            assert percents(bar, "width") == pytest.approx(100 * step.span.days / days, abs=0.006)
            kind = planned.lot.bloom_class if step.step == "show" else step.step
            assert bar.attributes["class"] == kind
            assert item.text.startswith(step.step) and short_date(step.span.start) in item.text
            assert (step.place or "") in item.text
            if step.span.days > 1:
                assert f"{short_date(step.span.start)}, {step.span.days} d" in item.text
        marks = {
            u.attributes["href"]: percents(u, "x") for u in node.all("use") if u.attributes["href"] != "#g"
        }
        assert marks["#t"] == pytest.approx(100 * (planned.target - first).days / days, abs=0.006)


def percents(node: Node, name: str) -> float:
    value = node.attributes[name] or ""
    assert value.endswith("%"), value
    return float(value[:-1])


def test_a_lot_says_its_target_and_likely_bloom(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    lots = {n.all("b")[0].text: n for n in root.all("details", **{"class": "lot"})}
    late = ["2 d early", "1 d early", "on the day", "1 d late", "2 d late"]
    for i, planned in enumerate(plan.lots):
        words = lots[planned.lot.name].all("summary", **{"class": "row"})[0].text
        likely = planned.target + timedelta(days=i % 5 - 2)
        assert f"target {short_date(planned.target)} · likely {short_date(likely)}, {late[i % 5]}" in words
        assert f"{planned.lot.cultivar}, {planned.lot.crop} · {planned.lot.pots} pots" in words


def test_without_an_outlook_the_planned_bloom_stands_and_it_is_said() -> None:
    plan = sample_plan(2)
    root = page(plan, some_outlooks(plan)[:1])
    summaries = [n.text for n in root.all("summary", **{"class": "row"})]
    assert "likely Thu 18 Mar, 2 d early" in summaries[0]
    assert "planned Mon 29 Mar, on the day" in summaries[1]
    assert "Without an outlook, planned dates only: T002." in section(root, "outlook").text


def test_what_is_logged_is_told_from_what_is_planned() -> None:
    plan = sample_plan(1)
    (lot,) = plan.lots
    steps = tuple(replace(s, basis="actual" if i < 2 else "expected") for i, s in enumerate(lot.steps))
    root = page(replace(plan, lots=(replace(lot, steps=steps),)))
    items = [li.text for li in root.all("details", **{"class": "lot"})[0].all("li")]
    assert [i.endswith(" · logged") for i in items] == [True] * 2 + [False] * 4
    assert "what is not logged is as now expected." in root.all("details", **{"class": "lot"})[0].text
    (logged,) = [
        r for r in root.all("details", **{"class": "lot"})[0].all("rect") if r.attributes["class"] == "lg"
    ]
    bars = [
        r
        for r in root.all("details", **{"class": "lot"})[0].all("rect")
        if r.attributes["class"] in ("pot", "root")
    ]
    assert percents(logged, "width") == pytest.approx(sum(percents(b, "width") for b in bars), abs=0.02)


def section(root: Node, name: str) -> Node:
    return next(n for n in root.all("section") if n.attributes["id"] == name)


def test_outlook_table_most_late_first(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    rows = section(root, "outlook").all("tbody")[0].all("tr")
    seen = {o.lot: o for o in some_outlooks(plan)}
    listed = [r.all("th")[0].all("b")[0].text for r in rows]
    assert sorted(listed) == sorted(seen)
    assert [seen[name].days_late for name in listed] == sorted(
        (o.days_late for o in seen.values()), reverse=True
    )
    for row, name in zip(rows, listed, strict=True):
        o = seen[name]
        words = ("2 d early", "1 d early", "on the day", "1 d late", "2 d late")[o.days_late + 2]
        likely = f"{short_date(o.likely)} {words}"
        assert [td.text for td in row.all("td")] == [
            short_date(o.early), likely, short_date(o.late), short_date(o.target), "25%",
        ]  # fmt: skip
        assert row.all("th")[0].text == f"{name} {'bud seen' if o.seen else 'in the cold'}"


def test_loads_of_this_week_and_at_the_peak_by_hand() -> None:
    plan = sample_plan(1)
    monday = date(2026, 11, 2)
    loads = (
        # this week 3 at most; 12 of 10 on Mon 9 November: 2 over
        PlaceLoad("Cold room North", 10, monday, (1, 3, 2, 0, 0, 0, 0, 12)),
        PlaceLoad("Cold room South", 10, monday, (10,)),  # just full is not over
        PlaceLoad("Bench 1", None, monday, (4,)),
        PlaceLoad("Bench 2", 250, monday, (0, 0)),
        PlaceLoad("Frame", 200, monday, ()),
    )
    rows = section(page(replace(plan, loads=loads)), "places").all("tbody")[0].all("tr")
    cells = [[td.text for td in row.all("td")] for row in rows]
    assert cells == [
        ["3 of 10", "12 of 10, 2 over, Mon 9 Nov"],
        ["10 of 10", "10 of 10, Mon 2 Nov"],
        ["4 pots", "4 pots, Mon 2 Nov"],
        ["empty, room for 250", "nothing all season, room for 250"],
        ["empty, room for 200", "nothing all season, room for 200"],
    ]
    # On a scale of 12 pots: 3 are 25 %, capacity 83.33 %, and the 2 over begin there.
    week, peak = rows[0].all("svg")
    assert percents(week.all("rect")[1], "width") == 25
    assert percents(peak.all("line")[0], "x1") == pytest.approx(100 * 10 / 12, abs=0.006)
    over = next(r for r in peak.all("rect") if r.attributes["class"] == "ov")
    assert percents(over, "x") == pytest.approx(83.33, abs=0.006) and percents(
        over, "width"
    ) == pytest.approx(16.67)
    assert not [r for r in rows[1].all("rect") if r.attributes["class"] == "ov"]


def test_settings_of_the_week_in_the_seasons_unit() -> None:
    # 9 °C is 48.2 °F (NIST SP 811, B.8: t/°F = 1.8 t/°C + 32)
    celsius = section(page(sample_plan(1)), "places").all("tbody")[0].all("th")[0].text
    fahrenheit = section(page(sample_plan(1, unit="F")), "places").all("tbody")[0].all("th")[0].text
    assert (celsius, fahrenheit) == ("Cold room North 9 °C", "Cold room North 48 °F")


def test_findings_by_severity_in_plain_words_with_what_to_do() -> None:
    plan = sample_plan(1)
    bad = Finding("x", "error", "lots", 2, "pots", "no pots", "say how many", "0")
    note = Finding("y", "note", "season", None, None, "no title", "give one")
    root = section(page(replace(plan, findings=(bad, *plan.findings, note))), "findings")
    assert [h.text for h in root.all("h3")] == ["1 error", "2 warnings", "1 note"]
    # the board is for staff, who have no tables: none says in which row it is
    assert root.all("li")[0].text == "no pots (0). say how many"
    assert "lots, row" not in root.text and "places, row" not in root.text
    assert len(root.all("li")) == 4
    assert "None: nothing was found" in section(page(replace(plan, findings=())), "findings").text


def test_cautions_of_the_weeks_tasks_once_each_and_that_labels_come_first(thirty: tuple[Plan, Node]) -> None:
    words = section(thirty[1], "week").text
    for key in ("bulbs", "lifting", "cold room"):
        assert words.count(" ".join(CAUTIONS[key].split())) == 1
    assert CAUTIONS["wet floor"] not in words  # first needed when lots are brought in
    assert "labels, local codes" in words


def test_lots_without_a_plan_are_named_with_why(thirty: tuple[Plan, Node]) -> None:
    assert (
        "Lost cause, tulip, 10 pots: needs 13 cold-weeks, has 9; earliest bloom Fri 2 Apr 2027."
        in section(thirty[1], "lots").text
    )


# ---------------------------------------------------------------- the filter's tags


def test_tags_name_class_and_places_by_number(thirty: tuple[Plan, Node]) -> None:
    plan, root = thirty
    (select,) = [n for n in root.all("select") if n.attributes["id"] == "place"]
    number = {o.text: o.attributes["value"] for o in select.all("option")}
    assert set(number) >= {p.name for p in plan.season.places}
    for node in root.all("details", **{"class": "lot"}):
        planned = plan.lot(node.all("b")[0].text)
        stood = {number[s.place] for s in planned.steps if s.place}
        assert set((node.attributes["data-p"] or "").split()) == stood
        assert node.attributes["data-c"] == planned.lot.bloom_class
    findings = section(root, "findings").all("li")
    # the lot is T002, a mid one; a place named in words only is always shown; a full bench comes first
    assert (findings[0].attributes["data-c"], findings[0].attributes["data-p"]) == ("*", "*")
    assert findings[1].attributes["data-c"] == "mid"


def test_a_lot_without_a_class_can_be_chosen() -> None:
    plan = sample_plan(2)
    first = plan.lots[0]
    bare = replace(
        first, lot=replace(first.lot, bloom_class=None), recipe=replace(first.recipe, bloom_class=None)
    )
    root = page(replace(plan, lots=(bare, plan.lots[1])))
    (select,) = [n for n in root.all("select") if n.attributes["id"] == "kind"]
    assert [o.text for o in select.all("option")] == ["every class", "mid", "without a class"]
    assert root.all("details", **{"class": "lot"})[1].attributes["data-c"] == "none"


def test_what_needs_the_script_is_hidden_until_it_runs(thirty: tuple[Plan, Node]) -> None:
    (filters,) = thirty[1].having("class", "filters")
    assert "hidden" in filters.attributes
    assert not [n for n in thirty[1].having("data-c") if "hidden" in n.attributes]


# ---------------------------------------------------------------- what people type


def typed(plan: Plan, word: str) -> Plan:
    """The plan with `word` in every place where a person's text can stand, names kept apart by a number."""
    names = {p.lot.name: f"{word} {i}" for i, p in enumerate(plan.lots)}
    places = {p.name: f"{word} place {i}" for i, p in enumerate(plan.season.places)}
    season = replace(
        plan.season,
        title=word,
        places=tuple(replace(p, name=places[p.name]) for p in plan.season.places),
    )
    lots = tuple(
        replace(
            p,
            lot=replace(p.lot, name=names[p.lot.name], cultivar=word, crop=word),
            steps=tuple(replace(s, place=places.get(s.place or "")) for s in p.steps),
        )
        for p in plan.lots
    )
    tasks = tuple(
        replace(t, key=f"{word}/{i}", lot=names.get(t.lot or ""), place=places.get(t.place or ""),
                to=places.get(t.to or ""), look_for=word)
        for i, t in enumerate(plan.tasks)
    )  # fmt: skip
    return replace(
        plan, season=season, lots=lots, tasks=tasks,
        unplanned=tuple(replace(u, lot=replace(u.lot, name=word, crop=word), reason=word) for u in plan.unplanned),
        loads=tuple(replace(load, place=places[load.place]) for load in plan.loads),
        rooms=tuple(replace(r, place=places[r.place], reason=word) for r in plan.rooms),
        findings=tuple(replace(f, message=word, hint=word, value=word, column=word) for f in plan.findings),
    )  # fmt: skip


def skeleton(root: Node) -> list[tuple[str, tuple[str, ...]]]:
    return [(n.tag, tuple(n.attributes)) for n in root.walk()]


def test_markup_that_people_type_stays_text() -> None:
    plan = sample_plan(3)
    harmless, nasty = page(typed(plan, "word")), page(typed(plan, NASTY))
    assert skeleton(nasty) == skeleton(harmless)
    assert nasty.all("h1")[0].text == NASTY
    assert nasty.all("script")[0].text == harmless.all("script")[0].text
    assert nasty.all("style")[0].text == harmless.all("style")[0].text
    assert nasty.all("details", **{"class": "lot"})[0].all("b")[0].text == f"{NASTY} 0"


@settings(max_examples=25, deadline=None)
@given(st.text(min_size=1, max_size=40))
def test_no_text_changes_the_shape_of_the_page(word: str) -> None:
    plan = sample_plan(2)
    word = f"a{word}"  # an empty title is another matter
    text = board_html(typed(plan, word), (), created=CREATED)
    text.encode("utf-8")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
    assert skeleton(read(text)) == skeleton(read(board_html(typed(plan, "word"), (), created=CREATED)))


@pytest.mark.parametrize("odd", ["\x00\x07", "\ud800", "\u2028", "\r\n"])
def test_what_no_page_can_hold_becomes_a_space(odd: str) -> None:
    root = page(typed(sample_plan(1), f"left{odd}right"), ())
    assert root.all("h1")[0].text == "left right"


# ---------------------------------------------------------------- the file


def test_same_plan_same_bytes(tmp_path: Path) -> None:
    plan = sample_plan(30)
    one, two = (
        write_board(plan, some_outlooks(plan), tmp_path / f"{i}.html", created=CREATED) for i in (1, 2)
    )
    assert one.read_bytes() == two.read_bytes()
    naive = write_board(plan, some_outlooks(plan), tmp_path / "3.html", created=CREATED.replace(tzinfo=None))
    assert naive.read_bytes() == one.read_bytes()
    assert "Tue 3 Nov 2026, 12:00 UTC" in read(one.read_text("utf-8")).all("footer")[0].text


def test_the_board_grows_with_the_number_of_lots_and_no_faster(tmp_path: Path) -> None:
    def drawing(count: int) -> Callable[[], object]:
        plan = sample_plan(count)
        return lambda: write_board(plan, some_outlooks(plan), tmp_path / f"{count}.html", created=CREATED)

    assert growth(drawing, 50) < 5
    assert (tmp_path / "200.html").stat().st_size < 400_000


def test_an_old_file_stays_where_the_new_one_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("old")
    with pytest.raises(OutputError):
        write_board(sample_plan(1), (), tmp_path / "file" / "board.html", created=CREATED)
    assert (tmp_path / "file").read_text() == "old"


def test_a_season_with_nothing_in_it() -> None:
    season = Season(title="", span=Span(date(2027, 3, 20), date(2027, 3, 21)))
    root = page(Plan(season, date(2026, 11, 3), (), (), (), (), (), ()), ())
    assert root.all("h1")[0].text == "Forcing plan"
    for name, words in {
        "week": "Nothing is planned this week.", "places": "The season states no place.",
        "findings": "None: nothing was found wrong or risky.", "lots": "No lot is planned.",
        "outlook": "No lot has an outlook.",
    }.items():  # fmt: skip
        assert words in section(root, name).text


def test_a_week_across_the_new_year_and_paper_of_the_season() -> None:
    # 2026 has 53 ISO weeks: it began on a Thursday.
    text = board_html(replace(sample_plan(3), on=date(2027, 1, 2)), (), created=CREATED)
    assert "This week: W53, Mon 28 Dec 2026 – Sun 3 Jan 2027" in html.unescape(text)
    assert "@page{size:A4" in text
    assert "@page{size:letter" in board_html(sample_plan(3, paper="Letter"), (), created=CREATED)


def test_an_unplanned_lot_has_the_tag_of_its_own_row() -> None:
    plan = sample_plan(1)
    lost = replace(plan.unplanned[0], lot=Lot("Lost", "tulip", 10, "late", bench="Bench 2", row=99))
    finding = Finding(
        "lot-unplanned", "error", "lots", 99, None, "Lost is not planned", "Mend it", lot="Lost"
    )
    root = page(replace(plan, unplanned=(lost,), findings=(finding,)))
    item = next(li for li in section(root, "lots").all("li") if li.text.startswith("Lost"))
    found = section(root, "findings").all("li")[0]
    for node in (item, found):
        assert (node.attributes["data-c"], node.attributes["data-p"]) == ("late", "3")


def test_long_dates_carry_their_year(thirty: tuple[Plan, Node]) -> None:
    assert long_date(thirty[0].on) in section(thirty[1], "outlook").text


def test_boxes_are_not_called_pots() -> None:
    # Of two lots the first stands in boxes; each is potted, and both are turned in one round: 12 boxes and 16 pots.
    base = sample_plan(2)
    boxed, other = base.lots
    boxed = replace(boxed, lot=replace(boxed.lot, box_cm=(60.0, 40.0)))
    day, names = date(2026, 11, 4), [p.lot.name for p in base.lots]
    pots = [float(p.lot.pots) for p in base.lots]
    tasks = [
        Task(f"{task}/{name}/1", day, name, task, many, 1.0, "Bench 1", look_for=task)
        for task in ("pot", "turn and space") for name, many in zip(names, pots, strict=True)
    ]  # fmt: skip
    board = page(replace(base, lots=(boxed, other), tasks=tuple(tasks)), ())
    said = [what.text for what in board.having("class", "what")]
    assert any(f"{names[0]} " in words and words.count(f"{pots[0]:.0f} boxes") == 1 for words in said)
    assert any(f"{names[1]} " in words and words.count(f"{pots[1]:.0f} pots") == 1 for words in said)
    assert any(f"{sum(pots):.0f} pots and boxes" in words for words in said)
    lines = [row.text for row in board.having("class", "n")]
    assert f" {pots[0]:.0f} boxes" in next(line for line in lines if line.startswith(names[0]))
    assert f" {pots[1]:.0f} pots" in next(line for line in lines if line.startswith(names[1]))
    units = {
        o.attributes["value"]: o.attributes.get("data-unit") for o in board.all("option") if o.text in names
    }
    assert units == {names[0]: "boxes", names[1]: None} and "Pots or boxes" in board.text
