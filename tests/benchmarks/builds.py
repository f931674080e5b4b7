"""A whole build of the demonstration plan against writing the same files from ready-made geometry, in one process."""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path

from tilegen.files.toml import find
from tilegen.files.writing import write_files
from tilegen.making.asked import Tools
from tilegen.making.lists import kit_csv
from tilegen.making.plan import BuiltPlan, build_plan, open_plan
from tilegen.making.things import things_of
from tilegen.making.workshop import open_workshop
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.report import Report, report_html
from tilegen.plans.layout import layout_numbers
from tilegen.plans.record import kit_json
from tilegen.sheets.make import make_sheet_sets, sheet_files
from tilegen.solids.beds import set_out, set_out_all
from tilegen.solids.build import build_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.formats.threemf import threemf_bytes

PLAN = "bell-foundry"


def whole(folder: Path) -> BuiltPlan:
    """From the plan's file to files on disk."""
    workshop = open_workshop(Tools())
    built = build_plan(open_plan(find(PLAN, "plans")), workshop)
    write_files(folder, built.made.files)
    return built


class Ready:
    """Everything worked out but not written: meshes, beds, sheets, the layout's shapes."""

    def __init__(self) -> None:
        self.workshop = open_workshop(Tools())
        self.plan = open_plan(find(PLAN, "plans"))
        self.things = things_of(self.plan.kit)
        self.meshes = [build_mesh(thing.name, thing.plates) for thing, _ in self.things]
        copies = [(mesh, count) for mesh, (_, count) in zip(self.meshes, self.things, strict=True)]
        self.beds = set_out(copies, self.workshop.printer)
        self.all = set_out_all(copies, self.workshop.printer.spacing)
        self.sets = [
            sheets
            for m in self.workshop.materials
            for sheets in make_sheet_sets(self.things, m, self.workshop.machine, numbers=layout_numbers(self.plan.kit))
        ]
        self.canvas = layout_canvas(self.plan.drawing, self.plan.kit)

    def write(self, folder: Path) -> dict[str, bytes]:
        """Only the writers, and the disk."""
        files = {f"solids/{m.name}.stl": stl_bytes(m) for m in self.meshes}
        by_name = {m.name: m for m in self.meshes}
        for number, items in enumerate(self.beds, 1):
            used = [by_name[name] for name in dict.fromkeys(item.name for item in items)]
            files[f"solids/bed-{number:02d}.3mf"] = threemf_bytes(used, items)
        files["solids/kit.3mf"] = threemf_bytes(self.meshes, self.all)
        for sheets in self.sets:
            files |= {f"sheets/{name}": content for name, content in sheet_files(sheets).items()}
        files["kit.json"] = ("".join(kit_json(self.plan.kit)) + "\n").encode()
        files["kit.csv"] = kit_csv(self.plan.kit, layout_numbers(self.plan.kit))
        files["layout.svg"] = self.canvas.svg().encode()
        files["layout.png"] = self.canvas.png()
        report = Report(
            self.plan.drawing, self.plan.kit, self.things, self.meshes, self.sets, files, (), self.workshop.printer
        )
        files["report.html"] = report_html(report).encode()
        write_files(folder, files)
        return files


def measure(rounds: int = 7) -> tuple[float, float, float]:
    """(whole build, writing alone, ratio), least seconds of each, taken in turn."""
    ready = Ready()
    builds, writes = [], []
    for _ in range(rounds):
        for work, taken in ((whole, builds), (ready.write, writes)):
            folder = Path(tempfile.mkdtemp())
            start = time.perf_counter()
            work(folder)
            taken.append(time.perf_counter() - start)
            shutil.rmtree(folder)
    return min(builds), min(writes), min(builds) / min(writes)


if __name__ == "__main__":
    built, written, ratio = measure()
    print(f"build: whole {built:.3f} s, writing alone {written:.3f} s, ratio {ratio:.2f} (under 3)")
