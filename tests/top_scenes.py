"""Scenes of the example garment, made by the whole job, that several tests share."""

import time
from collections.abc import Callable
from datetime import date
from functools import cache
from importlib import resources

import numpy as np

from likesewn.garment import load_kind, read_garment
from likesewn.garment.template import template_pattern
from likesewn.job import Job, run
from likesewn.publish import pattern_drawing
from likesewn.publish.sheets import Layout, spread
from likesewn.publish.tiles import tiling
from likesewn.web.scene import Scene
from likesewn.web.scenes import (
    FRONT_PAGE,
    PhotoLines,
    cut_scene,
    lay_scene,
    page_scene,
    pattern_scene,
    photo_scene,
    print_scene,
    record_scene,
    truing_scene,
)

TODAY = date(2031, 3, 14)


@cache
def job() -> Job:
    text = resources.files("likesewn.examples").joinpath("throwing-top.toml").read_text(encoding="utf-8")
    record = read_garment(text, "throwing-top.toml")
    done = run(record, load_kind(record.kind), today=TODAY, clock=time.perf_counter)
    assert isinstance(done, Job)
    return done


@cache
def layout() -> Layout:
    return spread(pattern_drawing(job().cut_list, TODAY), tiling("a4"))


def titles() -> dict[str, str]:
    return {piece.name: piece.title for piece in job().cut_list.pieces}


def taken() -> dict[str, float]:
    return {key: figure.mm for key, figure in job().record.tape.items()}


PHOTO = PhotoLines(
    sheets={1: np.array([(8.0, 8.0), (28.0, 8.0), (28.0, 36.0), (8.0, 36.0)])},
    outline=np.array([(60.0, 20.0), (100.0, 20.0), (110.0, 110.0), (50.0, 110.0)]),
    corners={"neck_point_left": (70.0, 20.0), "neck_point_right": (90.0, 20.0)},
    edges={"front.hem": np.array([(50.0, 110.0), (80.0, 112.0), (110.0, 110.0)])},
    curve_points={"front.hem": np.array([(80.0, 112.0)])},
    seams={"armhole": np.array([(60.0, 20.0), (64.0, 60.0)])},
    picked=((64.0, 60.0),),
)


def scenes() -> dict[str, Callable[[], Scene]]:
    """Return how to make a scene of every sort, by name."""
    name, unit = job().record.name, job().record.unit
    kind = job().kind
    return {
        "pattern": lambda: pattern_scene(job().pattern, name, unit, job().explained),
        "cut": lambda: cut_scene(job().cut_list, job().record),
        "record": lambda: record_scene(kind, job().pattern, name, unit, taken=taken(), chosen="chest_width"),
        "empty record": lambda: record_scene(kind, template_pattern(kind), name, "in", taken={}),
        "truing": lambda: truing_scene(job().explained, name, unit),
        "before": lambda: truing_scene(job().explained, name, unit, "before"),
        "after": lambda: truing_scene(job().explained, name, unit, "after"),
        "lay": lambda: lay_scene(job().plans[0], titles(), unit),
        "print": lambda: print_scene(layout(), name, unit),
        "sheet": lambda: page_scene(layout(), "B2", name, TODAY.isoformat(), unit),
        "first page": lambda: page_scene(layout(), FRONT_PAGE, name, TODAY.isoformat(), unit),
        "photograph": lambda: photo_scene("/photo.jpg", (160, 120), "table.jpg", PHOTO),
    }
