"""Planning by simulation against a closed-form power calculation."""

import numpy as np
import pytest
from statsmodels.stats.power import TTestPower

from finmeasure.timeseries.plan import Design, Spread, plan, simulated_power


@pytest.mark.parametrize(("fish", "change"), [(6, 4.0), (12, 3.0), (20, 2.0)])
def test_two_visits_agree_with_the_closed_form(fish, change):
    spread = Spread(between_fish=2.0, between_photos=3.0)
    found = simulated_power(Design(fish, 3, 2), spread, change, draws=4000)
    # Two visits: the fish's change has variance between² + 2 photo²/3 (statsmodels TTestPower).
    sd = np.sqrt(2.0**2 + 2 * 3.0**2 / 3)
    exact = TTestPower().power(change / sd, nobs=fish, alpha=0.05)
    assert found.power == pytest.approx(exact, abs=4 * found.u)


def test_more_photos_and_fish_never_see_less():
    spread = Spread(2.0, 4.0)
    table = plan([Design(8, 1, 3), Design(8, 3, 3), Design(16, 3, 3)], spread, 4.0, draws=3000)
    powers = [row.power for row in table]
    assert powers == sorted(powers)


def test_a_single_fish_is_refused():
    with pytest.raises(ValueError, match="At least 2 fish"):
        simulated_power(Design(1, 3, 4), Spread(1, 1), 5.0)
