"""Invented logs judged: what is asked of the judge of logs, counted."""

from typing import NamedTuple

import numpy as np

from tests.study.handover import log_generators, trials
from yieldkit.base.errors import InputError
from yieldkit.study.handover import verdict
from yieldkit.study.handover.judge import Judgement, alike, judged
from yieldkit.study.handover.judged_model import distances
from yieldkit.study.handover.log_model import LogModel
from yieldkit.study.handover.log_models import log_model
from yieldkit.study.handover.slips import MISREAD, NONE_OF_THESE, priors


class LogTrial(NamedTuple):
    """A log and what was made of it."""

    generator: str
    plant: log_generators.LoggedPlant
    model: LogModel
    judgement: Judgement
    claimed: float
    words: str
    kind: str
    right: bool
    separable: bool
    called: bool


def log_trials(generator, number, seed=1, change=None):
    """Judge invented logs of one generator; those with too few clear steps are refused."""
    for own in log_generators.logged_plants(trials.sites(), generator, number, seed):
        try:
            yield log_trial(generator, own, change)
        except InputError as error:
            if "steps that can be judged" not in str(error):
                raise


def log_trial(generator, own, change=None, model=None):
    """Judge one log."""
    model = log_model(own.site, own.wiring, own.log) if model is None else model
    if change is not None:
        model = change(model)
    apart = distances(model)
    found = judged(model, priors(model.slips), alike(model.slips, apart), apart)
    claimed, members = found.ranked()[0]
    top = found.slips[members[0]]
    right = own.truth is not None and own.truth in members
    right |= own.truth is None and top.kind in (NONE_OF_THESE, MISREAD)
    separable = own.truth is not None and _separable(found, own.truth)
    called = claimed >= verdict.CALLED
    return LogTrial(
        generator, own, model, found, claimed, top.words, top.kind, bool(right), separable, called
    )


def _separable(found, truth):
    """Return whether all other slips lie far from the true one."""
    others = found.groups != found.groups[truth]
    others &= np.array([own.doubt is None for own in found.slips])
    return bool(found.distance[truth, others].min() > trials.SEPARABLE)


class Score(NamedTuple):
    """What was counted: of right wirings, of separable slips, and of all.

    `spoilt` are right wirings of which a column is called misread, and rows of it were spoilt.
    """

    drawn: int
    false_alarms: int
    spoilt: int
    separable: int
    found: int
    of_all: int
    right: int


def score(those):
    """Count. A misread column is no false alarm where rows of one were spoilt."""
    drawn = [own for own in those if own.plant.truth == 0]
    apart = [own for own in those if own.separable and own.plant.truth != 0]
    alarms = [own for own in drawn if own.called and not own.right]
    spoilt = [own for own in alarms if own.plant.gross and own.kind == MISREAD]
    return Score(
        len(drawn),
        len(alarms) - len(spoilt),
        len(spoilt),
        len(apart),
        sum(own.right for own in apart),
        len(those),
        sum(own.right for own in those),
    )
