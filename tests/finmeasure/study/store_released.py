"""Store a small study of the newest schema as SQL; run it on the day a schema is released.

    python tests/finmeasure/study/store_released.py

A stored study is never made anew: it must stay what that release wrote.
"""

import sqlite3
import tempfile
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import numpy as np

from finmeasure.exchange.inputs import EventRow, GroupRow, LabelRow, WaterRow
from finmeasure.photo.record import PhotoMetadata
from finmeasure.quantity import Measure
from finmeasure.reading import Landmark, Outline, Reading
from finmeasure.scale.calibration import Scale
from finmeasure.study.records import (
    CameraRow,
    CardPrintRow,
    FishResult,
    PhotoResult,
    ReferenceRow,
)
from finmeasure.study.schema import APPLICATION_ID, newest_schema
from finmeasure.study.store import Study

PHOTO = "tank 1/a.jpg"
DAY = date(2026, 5, 3)


def reading(placed_by):
    landmarks = {
        "snout_tip": Landmark("snout_tip", 100.25, 200.5, placed_by=placed_by, u_px=2.0),
        "adipose_tip": Landmark("adipose_tip", state="absent", placed_by=placed_by),
    }
    outline = Outline("caudal", np.array([[1, 2], [3.5, 4], [5, 6]], float), edge="clean")
    return Reading("red 7", landmarks, {"caudal": outline}, "adipose", placed_by)


def fill_photos(study):
    run_id = study.start_run({"question": "full"})
    scale = Scale("known", np.diag([0.05, 0.05, 1.0]), 0.001, False, (2000.0, 1500.0))
    proposal = FishResult(
        reading("finmeasure"), (), "left", DAY, "tank 1", source="program", confirmed=False
    )
    taken = PhotoMetadata(4000, 3000, datetime(2026, 5, 3, 10, 11, 12), "Invented A1")
    study.record_photo_result(
        PhotoResult(PHOTO, "a" * 64, "measured", "g", taken, scale=scale, fish=(proposal,)),
        run_id=run_id,
    )
    study.record_photo_result(
        PhotoResult("tank 1/b.jpg", "b" * 64, "refused", "g", reason="blurred")
    )
    measured = Measure("standard_length", "mm", "measured", 31.5, 0.25, ("u_default",))
    study.confirm_reading(PHOTO, reading("Keeper"), measures=[measured], seconds=40.0)
    study.confirm_reading(PHOTO, reading("Keeper"), purpose="repeat")
    study.save_draft(PHOTO, "red 7", "Helper", {"at": "snout_tip"})
    study.end_run(run_id)


def fill_what_the_keeper_knows(study):
    study.set_groups([GroupRow("tank 1", kind="tank", invoiced=48)])
    study.add_events([EventRow("tank 1", "2026-05-04", "water change")])
    study.add_water([WaterRow("tank 1", "2026-05-04", "ammonia", 0.05, "mg/l")])
    study.add_labels([LabelRow("red 7", "sex", "male", "Keeper")])
    study.declare_reference(
        ReferenceRow("own_record", "caudal", "red 7", document={"visit": "2026-05-03"})
    )
    study.add_card_print(
        CardPrintRow("card A6", "window-A6-1", 100.0, 99.8, 120.0, 119.9, 0.02, "2026-05-01")
    )
    study.add_camera(CameraRow("Invented A1", 26.0, {"radial": 0.01}))
    study.set_setting("unit", "mm")


def main():
    target = Path(__file__).with_name("released") / f"{newest_schema()}.sql"
    with tempfile.TemporaryDirectory() as folder:
        with Study.open(folder, create=True) as study:
            fill_photos(study)
            fill_what_the_keeper_knows(study)
        with closing(sqlite3.connect(Path(folder) / "study.db")) as connection:
            lines = list(connection.iterdump())
    # A dump holds no pragmas; this one says that the file is a study.
    target.write_text("\n".join([f"PRAGMA application_id = {APPLICATION_ID};", *lines, ""]))


if __name__ == "__main__":
    main()
