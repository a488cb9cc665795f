"""Sexing against Fisher's iris data and real swordtails."""

import numpy as np
import pandas as pd
import pytest
from sklearn.datasets import load_iris
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.model_selection import LeaveOneOut, cross_val_predict

from finmeasure.shipment.sex import learn_sex, sex_in_words


def test_discriminant_routine_gives_the_known_misses_on_iris():
    # Fisher 1936: 147 of 150 by resubstitution; the misses are cases 71, 84 and 134.
    table, kind = load_iris(return_X_y=True)
    told = LinearDiscriminantAnalysis().fit(table, kind).predict(table)
    assert list(np.flatnonzero(told != kind) + 1) == [71, 84, 134]


def test_our_learner_on_two_iris_kinds_is_an_independent_leave_one_out():
    table, kind = load_iris(return_X_y=True)
    rows = kind > 0
    sexes = np.where(kind[rows] == 1, "female", "male")
    learned = learn_sex(table[rows], list(sexes), ["a", "b", "c", "d"])
    plain = LinearDiscriminantAnalysis(priors=[0.5, 0.5])
    told = cross_val_predict(plain, table[rows], sexes, cv=LeaveOneOut())
    # Shrinkage may move a borderline case; leave-one-out of the plain routine misses 3 of 100.
    assert abs(learned.correct - int((told == sexes).sum())) <= 2
    assert learned.low < learned.accuracy < learned.high


def test_swordtails_are_told_better_than_by_the_best_single_ratio(shared):
    """Preising et al. 2024, Evolution: 250 Xiphophorus with sex and lengths (MIT licence)."""
    frame = pd.read_csv(shared / "tables" / "08_swordtail_fins" / "swordtail_specimens.csv")
    columns = ["dorsal_fin_length", "dorsal_fin_height", "body_depth", "peduncle_depth",
               "swd_length"]  # fmt: skip
    for column in ["std_length", *columns]:
        frame[column] = pd.to_numeric(frame[column], errors="coerce")
    frame = frame[frame["sex"].isin(["M", "F"])].dropna(subset=["std_length", *columns])
    sexes = frame["sex"].map({"M": "male", "F": "female"}).tolist()
    ratios = frame[columns].div(frame["std_length"], axis=0).to_numpy()
    assert len(frame) > 200
    learned = learn_sex(ratios, sexes, columns)
    single = max(_told_by_nearest_mean(ratios[:, i], np.array(sexes)) for i in range(5))
    assert learned.accuracy > single
    assert learned.low > 0.5
    assert learned.deciding in columns


def test_never_sure_from_a_few():
    rng = np.random.default_rng(1)
    ratios = np.r_[rng.normal(0, 0.1, (6, 1)), rng.normal(5, 0.1, (6, 1))]
    learned = learn_sex(ratios, ["female"] * 6 + ["male"] * 6, ["anal_rod_to_sl"])
    # Twelve of twelve right: the Wilson interval begins at 0.757, and so does our sureness.
    assert learned.male_probability([[5.0]])[0] == pytest.approx(0.7575, abs=1e-3)
    assert sex_in_words(float(learned.male_probability([[5.0]])[0])) == "undecided"


def test_one_sex_only_is_refused():
    with pytest.raises(ValueError, match="at least 5 of each"):
        learn_sex(np.ones((8, 1)), ["male"] * 8, ["x"])


def _told_by_nearest_mean(ratio, sexes):
    """Leave-one-out share of the discriminant on one ratio: the nearer mean of the others."""
    away = []
    for sex in ("male", "female"):
        mine = sexes == sex
        mean = (ratio[mine].sum() - mine * ratio) / (mine.sum() - mine)
        away.append(np.abs(ratio - mean))
    return np.mean((away[0] < away[1]) == (sexes == "male"))
