"""Invented installations judged: what is asked of the judge, counted."""

from collections import Counter
from functools import cache
from typing import NamedTuple

import numpy as np

import yieldkit
from tests.study.handover import generators
from yieldkit.study.handover import sheet_readings, verdict
from yieldkit.study.handover.judge import Judgement, alike, judged
from yieldkit.study.handover.judged_model import distances
from yieldkit.study.handover.slips import NONE_OF_THESE, drawn_wiring, priors
from yieldkit.study.handover.string_model import StringModel

SEPARABLE = 4.0


class Trial(NamedTuple):
    """An installation and what was made of it."""

    generator: str
    installation: generators.Installation
    model: StringModel
    judgement: Judgement
    claimed: float
    kind: str
    right: bool
    repeated: bool
    separable: bool
    called: bool


@cache
def sites():
    """Return sites with the wiring that is looked at."""
    demo, two = yieldkit.load_site(), yieldkit.load_site("site_configs/two_inverters.yaml")
    return (
        (demo, demo.wirings[0]),
        (demo, demo.wirings[1]),
        (demo, demo.wirings[3]),
        (two, two.wirings[0]),
    )


def trials(generator, number, seed=1):
    """Judge invented installations of one generator."""
    for own in generators.installations(sites(), generator, number, seed):
        yield trial(generator, own)


def model_of(own):
    """Return the readings of an installation as functions of what is unknown."""
    drawn = drawn_wiring(own.site, own.wiring, own.names)
    planes = np.argmax(drawn.modules, axis=1)
    return sheet_readings.string_model(own.site, drawn, planes, own.readings)


def trial(generator, own, change=None, prior=priors, model=None):
    """Judge one installation."""
    model = model_of(own) if model is None else model
    if change is not None:
        model = change(model)
    apart = distances(model)
    found = judged(model, prior(model.slips), alike(model.slips, apart), apart)
    claimed, members = found.ranked()[0]
    top = found.slips[members[0]]
    right = own.truth is not None and own.truth in members
    right |= own.truth is None and top.kind == NONE_OF_THESE
    repeated = False
    if own.misread is not None:
        place = own.readings.string[own.misread], own.readings.quantity[own.misread]
        words = ("the open-circuit voltage", "the short-circuit current")[place[1]]
        repeated = (
            verdict.to_repeat(found, own.readings.value) == f"{words} of {own.names[place[0]]}"
        )
    return Trial(
        generator,
        own,
        model,
        found,
        claimed,
        top.kind,
        bool(right),
        repeated,
        own.truth is not None and _separable(found, own.truth),
        claimed >= verdict.CALLED,
    )


def _separable(found, truth):
    """Return whether all other slips lie far from the true one."""
    others = found.groups != found.groups[truth]
    others &= np.array([own.doubt is None for own in found.slips])
    return bool(found.distance[truth, others].min() > SEPARABLE)


class Score(NamedTuple):
    """What was counted."""

    drawn: int
    false_alarms: int
    none_of_these: int
    separable: int
    found: int
    brier: float


def score(those):
    """Count."""
    drawn = [own for own in those if own.installation.truth == 0]
    apart = [own for own in those if own.separable and own.installation.truth != 0]
    return Score(
        len(drawn),
        sum(own.called and not (own.right or own.repeated) for own in drawn),
        sum(own.kind == NONE_OF_THESE for own in drawn),
        len(apart),
        sum(own.right or own.repeated for own in apart),
        float(np.mean([_brier(own) for own in those if own.installation.truth is not None])),
    )


def _brier(own):
    """Return the Brier score over groups: Brier (1950), Monthly Weather Review 78, 1-3."""
    groups = np.unique(own.judgement.groups)
    weight = np.array([own.judgement.probability[own.judgement.groups == g].sum() for g in groups])
    truth = groups == own.judgement.groups[own.installation.truth]
    return float(np.square(weight - truth).sum())


def confusion(those):
    """Return how often each kind of truth was called what."""
    table = Counter()
    for own in those:
        truth = own.installation.truth
        name = "two at once" if truth is None else own.judgement.slips[truth].kind
        table[name, "repeat" if own.repeated and not own.right else own.kind] += 1
    return table


def reliability(those, tenths=10):
    """Return by tenths of claimed probability: cases, mean claimed, mean hit, standard error."""
    claimed = np.array([own.claimed for own in those])
    hit = np.array([own.right or own.repeated for own in those], dtype=float)
    place = np.minimum((claimed * tenths).astype(int), tenths - 1)
    rows = []
    for tenth in range(tenths):
        own = place == tenth
        if own.any():
            share = hit[own].mean()
            error = np.sqrt(max(share * (1 - share), 1.0 / own.sum()) / own.sum())
            rows.append((int(own.sum()), claimed[own].mean(), share, error))
    return rows
