"""A maker's own log of times: what it does to hours, minutes and glue, and whatever a person may type into it."""

import csv
import json
import math
import random
import re
from itertools import pairwise

import pytest

from tests.calling import call
from tilegen.errors import InputError
from tilegen.files.stock import read_machine, read_material, read_printer
from tilegen.files.times import NOT_MEASURED, Pace, Times, pace_of, read_times

HEAD = "work,with,said,took\n"


def log(folder, text, name="times.csv"):
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# --- statistics ---


def test_the_interval_of_a_mean_is_the_handbooks():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2, on its data ZARR13.DAT (its figures from memory).

    195 readings of mean 9.261460 and standard deviation 0.022789: 95 % limits 9.258242 and 9.264679. The data are not
    at hand: 97 readings either side of the mean, and one on it, have the same mean and standard deviation.
    """
    aside = 0.022789 * math.sqrt(194 / 194)
    found = pace_of([9.261460] + [9.261460 + sign * aside for sign in (-1, 1) for _ in range(97)])
    assert found.factor == pytest.approx(9.261460, abs=1e-9)
    assert (found.low, found.high) == pytest.approx((9.258242, 9.264679), abs=2e-6)


def test_a_log_by_hand(tmp_path):
    """Took 1.1, 1.3, 1.2 and 1.2 times what was said: mean 1.2, s = sqrt(0.02 / 3), t(3) = 3.182 (tables): 1.2 +- 0.13."""
    path = log(tmp_path, HEAD + "glue,foam,100 min,110 min\nglue,foam,1 h 40 min,2 h 10 min\n"
               "glue,foam,50,60\nglue,foam,\"1,5 h\",108 min\n")  # fmt: skip
    pace = read_times(path).pace("glue", "foam")
    assert pace.factor == pytest.approx(1.2)
    assert pace.high - pace.factor == pytest.approx(3.182 * math.sqrt(0.02 / 3) / 2, abs=1e-4)
    assert pace.entries == 4
    # A glue's time says nothing of its weight, nor of another material.
    assert read_times(path).pace("glue", "foam", weighed=True) == Pace()
    assert read_times(path).pace("glue", "card") == Pace(1.0, 0.5, 2.0, 0)


def test_the_range_narrows_with_the_number_of_entries_and_is_never_wider_than_without_a_log():
    rng = random.Random(4)
    widths = []
    for count in (0, 1, 2, 4, 8, 16, 64):
        found = [pace_of([max(0.1, rng.gauss(1.2, 0.15)) for _ in range(count)]) for _ in range(60)]
        assert all(
            p.low <= p.factor <= p.high and p.high < 2.001 * p.factor and p.low > 0.499 * p.factor for p in found
        )
        widths.append(sum((p.high - p.low) / p.factor for p in found) / 60)
    assert widths[0] == pytest.approx(1.5)
    assert all(later <= sooner + 1e-6 for sooner, later in pairwise(widths))
    assert widths[-1] < 0.1
    # 95 % of such intervals hold the true mean (Student's law for errors of that kind; so does a trial of many).
    held = [pace_of([rng.gauss(1.0, 0.05) for _ in range(6)]) for _ in range(800)]
    assert 0.92 < sum(p.low <= 1.0 <= p.high for p in held) / 800 < 0.98


# --- what it does ---


def test_files_go_by_the_log():
    times = Times({("glue", "foam", False): (1.5,), ("glue", "foam", True): (2.0,), ("cut", "hand-knife", False): (0.5,),
                   ("print", "fdm-220", False): (1.1, 1.2)})  # fmt: skip
    foam, knife, printer = read_material("foam"), read_machine("hand-knife"), read_printer("fdm-220")
    glue, timed = foam.gluing, times.of_material(foam).gluing
    assert (timed.joint, timed.face, timed.bead, timed.drying) == (1.5 * glue.joint, 2 * glue.face, 2 * glue.bead, 24)
    assert times.of_machine(knife).work.cut == knife.work.cut / 2
    assert times.of_machine(read_machine("laser")) == read_machine("laser")
    assert times.of_printer(printer).pace == pytest.approx(1.15)
    assert times.of_printer(printer).spread == pytest.approx(0.3)
    own = read_printer("fdm-220, pace=1.5, spread=0.1")
    assert (times.of_printer(own).pace, times.of_printer(own).spread) == pytest.approx((1.15 * 1.5, 0.1))
    assert Times().of_material(foam) is foam
    assert Times().of_machine(knife) is knife
    assert Times().of_printer(printer) is printer


PLAN = 'name = "One"\ndrawing = "A"\n'


def measured_rows(report):
    """What the report's table of estimates says, by work and what it was done with, as text."""
    part = report.split("Time, glue and fits")[1].split("</table>")[0]
    rows = [re.findall(r"<td>(.*?)</td>", row) for row in part.split("<tr>")[2:]]
    return [[re.sub(r"<[^>]+>", "", cell) for cell in row] for row in rows]


def test_a_report_says_what_is_not_measured_and_the_next_build_goes_by_the_log(tmp_path):
    """The columns of the report are those of the log: said never changes, whatever the log says."""
    (tmp_path / "one.toml").write_text(PLAN)
    assert call("build", "one.toml", "-o", "before", "-q", cwd=tmp_path).returncode == 0
    rows = measured_rows((tmp_path / "before/one/report.html").read_text())
    assert [row[:2] for row in rows] == [
        ["cut", "hand-knife"], ["glue", "foam"], ["glue", "foam"], ["print", "fdm-220"], ["clearances", "fdm-220"],
    ]  # fmt: skip
    assert {row[-1] for row in rows} == {NOT_MEASURED}
    lines = [f"{work},{stock},{said},{said}" for work, stock, said, *_ in rows if work != "clearances"]
    twice = [
        f"{work},{stock},{said},{2 * float(said.split()[0]):g} {said.split()[1]}" for work, stock, said, *_ in rows[:4]
    ]
    (tmp_path / "even.csv").write_text(HEAD + "\n".join(lines) + "\n")
    (tmp_path / "times.csv").write_text(HEAD + "\n".join(3 * twice) + "\n")
    assert call("gauge", "--printer", "fdm-220", "--record", "slip=.3", "-o", "own", "-q", cwd=tmp_path).returncode == 0
    hours = {}
    for name, printer, tried in (
        ("even", "fdm-220", NOT_MEASURED),
        ("times", "own/printers/fdm-220.toml", "measured: slip"),
    ):
        words = ("--times", f"{name}.csv", "--printer", printer)
        done = call("build", "one.toml", "-o", name, *words, "--json", cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        printing = json.loads(done.stdout)["printing"]
        again = measured_rows((tmp_path / name / "one/report.html").read_text())
        assert [row[2] for row in again] == [row[2] for row in rows]
        assert again[4][-1] == tried
        assert {row[-1] for row in again[:4]} == {
            f"your log, {3 if name == 'times' else 1} entr{'ies' if name == 'times' else 'y'}"
        }
        (work,) = [
            row
            for row in csv.DictReader((tmp_path / name / "one/shopping.csv").read_text().splitlines())
            if "work by hand" in row["item"]
        ]
        hours[name] = printing["hours"], printing["hours_between"], work["note"]
    assert hours["times"][0] == pytest.approx(2 * hours["even"][0], rel=5e-3)
    # Three entries that all took twice as long: nothing is left of the range. One entry: the usual one.
    assert hours["times"][1] == pytest.approx([hours["times"][0]] * 2, abs=0.02)
    assert hours["even"][1] == pytest.approx([0.7 * hours["even"][0], 1.3 * hours["even"][0]], abs=0.02)
    assert "by your log" in hours["times"][2]
    assert float(measured_rows((tmp_path / "times/one/report.html").read_text())[1][3].split()[0]) == 2 * float(
        rows[1][2].split()[0]
    )


def test_a_log_of_other_things_is_said(tmp_path):
    (tmp_path / "one.toml").write_text(PLAN)
    log(tmp_path, HEAD + "glue,faom,10 min,20 min\n")
    done = call("build", "one.toml", "-o", "out", "--times", "times.csv", cwd=tmp_path)
    assert (
        "times.csv has times that this build has no use for: glue faom. This build has: cut hand-knife, glue foam"
        in done.stderr.replace("\n", " ") + done.stdout.replace("\n", " ")
    )


# --- what a person types ---

WRONG = [
    ("", "the table has no heading"),
    ("\n\n", "the table has no heading"),
    ("work,with,said\nglue,foam,1 min\n", 'row 1: there is no column "took"'),
    ("work,with,said,took,why\n", 'row 1: "why" is not a column'),
    ("work,with,said,said\n", "a name is there twice"),
    (HEAD + "glue,foam,1 min\n", "row 2: this row has 3 cells"),
    (HEAD + "glue,foam,1,5 h,2 h\n", "Put text that has a comma in quotes"),
    (HEAD + "glues,foam,1 min,2 min\n", 'row 2, work: "glues" is not a kind of work. Did you mean "glue"'),
    (HEAD + ",foam,1 min,2 min\n", "row 2, work: this is empty"),
    (HEAD + "glue,,1 min,2 min\n", "row 2, with: it does not say which material"),
    (HEAD + "glue,foam,,2 min\n", "row 2, said: this is empty"),
    (HEAD + "glue,foam,1 min,2 days\n", 'row 2, took: "days" is not a unit'),
    (HEAD + "glue,foam,1 min,-2 min\n", "row 2, took: \"-2 min\" is neither"),
    (HEAD + "glue,foam,0 min,2 min\n", "row 2, said: \"0 min\" is no time at all"),
    (HEAD + "glue,foam,1 min,nan\n", "row 2, took"),
    (HEAD + "glue,foam,1 min,1e9 min\n", "row 2, took"),
    (HEAD + "glue,foam,1 min,99999999999 h\n", "row 2, took"),
    (HEAD + "glue,foam,1 min,2 h\n", "row 2: it took 120 times what was said"),
    (HEAD + "glue,foam,10 g,2 min\n", "row 2: one of these is a time and one a weight"),
    (HEAD + "cut,laser,10 g,20 g\n", 'row 2: "cut" is timed'),
    (HEAD + "glue,foam,1 h 2 h,2 h\n", "row 2, said"),
    (HEAD + "glue,foam,1:30,2:00\n", 'row 2, said: "1:30" is neither'),
    (HEAD + '\nglue,"foam,1 min,2 min\n', "can't be read as CSV"),
    (b"\xff\xfew\x00o\x00", "not UTF-8"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), WRONG, ids=range(len(WRONG)))
def test_what_can_not_be_is_refused_with_file_row_and_cure(text, says, tmp_path):
    with pytest.raises(InputError) as caught:
        read_times(log(tmp_path, text))
    assert says in caught.value.message
    assert str(tmp_path / "times.csv") in caught.value.message
    assert caught.value.cure


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + HEAD + "glue,foam,90 min,1.5 h\n",
        "work;with;said;took\r\nGlue;Foam;90;1,5 h\r\n;;;\r\n",
        "work\twith\tsaid\ttook\nglue\tfoam\t5400 s\t90 minutes\n",
        "took,said,with,work\n1 h 30 min,90 min., foam ,glue",
    ],
)
def test_spreadsheets_of_any_country_are_read(text, tmp_path):
    assert read_times(log(tmp_path, text)).ratios == {("glue", "foam", False): (pytest.approx(1.0),)}


def test_a_heading_alone_is_a_log_of_nothing(tmp_path):
    assert read_times(log(tmp_path, HEAD)) == Times({}, str(tmp_path / "times.csv"))


def test_whatever_is_typed_is_read_or_refused_in_words(tmp_path):
    """600 files put together from what people type; each gives a log of sane ratios, or file, row and cure."""
    rng = random.Random(9)
    cells = ["glue", "cut", "print", "Glue ", "foam", "", "90 min", "1.5 h", "1,5 h", "-3", "0", "12", "45 g", "0.05 kg", "1e400", "inf",
             '"', '"a,b"', "ten", "1 h 20", "²", "١٢ min", "9" * 30, "1 h 1 min 1 s", "\x00", "=1+1", "🕐", "h", "min 3", "1..5 h"]  # fmt: skip
    read, refused = 0, []
    for _ in range(600):
        parts = rng.choice([",", ",", ",", ";", "\t"])
        head = rng.choice(
            ["work,with,said,took"] * 6 + ["Work,With,Said,Took", "work,said,took", "took,work,with,said", ""]
        )
        lines = [head.replace(",", parts)]
        for _ in range(rng.randint(0, 3)):
            usual = [
                rng.choice(["glue", "cut", "print"]),
                "foam",
                rng.choice(["90 min", "1 h"]),
                rng.choice(["80 min", "2 h"]),
            ]
            row = [rng.choice(cells) if rng.random() < 0.15 else cell for cell in usual]
            lines.append(parts.join(row if rng.random() < 0.95 else row[:3]))
        text = rng.choice(["", "\ufeff"]) + rng.choice(["\n", "\r\n"]).join(lines)
        try:
            found = read_times(log(tmp_path, text))
        except InputError as error:
            refused += [error]
            continue
        read += 1
        assert all(1 / 20 <= ratio <= 20 for ratios in found.ratios.values() for ratio in ratios)
    assert read > 120
    assert len(refused) > 120
    assert [error.message for error in refused if not (error.file and error.cure)] == []
