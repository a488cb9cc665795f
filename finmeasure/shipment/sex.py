"""Sex by the fins: learned from the keeper's own labelled fish, never sure from a few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.model_selection import LeaveOneOut, cross_val_predict
from statsmodels.stats.proportion import proportion_confint

LABELS_PER_SEX = 5
UNDECIDED = (0.2, 0.8)


@dataclass(frozen=True, slots=True)
class Learned:
    """A discriminant learned from labelled fish.

    Parameters
    ----------
    correct, labelled : int
        Fish told rightly when each is left out in turn, of how many.
    low, high : float
        95 % interval of that share (Wilson).
    deciding : str
        The ratio with the largest weight.
    """

    correct: int
    labelled: int
    low: float
    high: float
    deciding: str
    model: LinearDiscriminantAnalysis
    names: tuple[str, ...]
    scale: NDArray[np.float64]
    centre: NDArray[np.float64]

    @property
    def accuracy(self) -> float:
        """Share told rightly."""
        return self.correct / self.labelled

    def male_probability(self, ratios: ArrayLike) -> NDArray[np.float64]:
        """Probability that each fish is a male.

        Parameters
        ----------
        ratios : array_like of shape (N, P)
            Same ratios as learned from.

        Returns
        -------
        ndarray of shape (N,)
            Drawn towards 0.5 by what the labelled fish can prove: never beyond the lower bound
            of the leave-one-out accuracy.
        """
        table = (np.atleast_2d(np.asarray(ratios, float)) - self.centre) / self.scale
        male = list(self.model.classes_).index("male")
        raw = self.model.predict_proba(table)[:, male]
        best = max(0.5, self.low)
        return np.asarray(np.clip(raw, 1.0 - best, best))


def learn_sex(ratios: ArrayLike, sexes: Sequence[str], names: Sequence[str]) -> Learned:
    """Learn to tell the sexes from ratios of labelled fish.

    Parameters
    ----------
    ratios : array_like of shape (N, P)
        Ratios without gaps.
    sexes : sequence of {"male", "female"}
        Labels.
    names : sequence of str
        Names of the ratios.

    Raises
    ------
    ValueError
        If a sex has fewer than five labelled fish.
    """
    table, labels = np.asarray(ratios, float), np.asarray(sexes)
    counts = {sex: int((labels == sex).sum()) for sex in ("male", "female")}
    if min(counts.values()) < LABELS_PER_SEX:
        message = (
            f"{counts['male']} males and {counts['female']} females are labelled; at least "
            f"{LABELS_PER_SEX} of each are needed. Label more fish in labels.csv."
        )
        raise ValueError(message)
    centre, scale = table.mean(axis=0), table.std(axis=0, ddof=1)
    standard = (table - centre) / scale
    model = LinearDiscriminantAnalysis(solver="lsqr", shrinkage="auto", priors=[0.5, 0.5])
    told = cross_val_predict(model, standard, labels, cv=LeaveOneOut())
    correct = int((told == labels).sum())
    low, high = proportion_confint(correct, len(labels), method="wilson")
    model.fit(standard, labels)
    deciding = names[int(np.argmax(np.abs(model.coef_[0])))]
    return Learned(
        correct, len(labels), float(low), float(high), deciding, model, tuple(names), scale, centre
    )


def sex_in_words(probability: float) -> str:
    """Turn a probability into words, with an undecided band in the middle.

    Examples
    --------
    >>> sex_in_words(0.55)
    'undecided'
    """
    if probability >= UNDECIDED[1]:
        return "male-like"
    if probability <= UNDECIDED[0]:
        return "female-like"
    return "undecided"
