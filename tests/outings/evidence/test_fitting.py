"""The fitting of additive models of counts: the minimum that a general optimiser finds, what has no estimate."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import minimize

from outings.evidence import fitting


def a_model(seed=1, counts=60, levels=15, sd=0.8):
    chance = np.random.default_rng(seed)
    level = np.sort(np.r_[np.arange(levels), chance.integers(0, levels, counts - levels)])
    x = np.column_stack([np.ones(counts), chance.integers(0, 2, counts), chance.integers(0, 2, counts)])
    offset = np.log(chance.uniform(0.2, 2, counts))
    y = chance.poisson(np.exp(offset + 2 + 0.4 * x[:, 1] + chance.normal(0, 0.5, levels)[level]))
    return fitting.model(y, offset, x, [1e-9, 1e-9, 1 / 0.5**2], level, 1 / sd**2)


def dense(model):
    """All columns, those of the levels too, and the diagonal of all priors."""
    levels = np.eye(model.level.max() + 1)
    x = np.column_stack([model.x, levels[model.level]])
    return x, np.diag(np.r_[np.diag(model.prior), np.full(len(levels), model.level_precision)])


@pytest.mark.parametrize("dispersion", [1.0, 3.0])
def test_newton_finds_the_minimum_of_a_general_optimiser(dispersion):
    """Against scipy's trust-exact on all columns at once, and the inverse of all second derivatives."""
    model = a_model()
    x, prior = dense(model)

    def loss(beta):
        eta = model.offset + x @ beta
        return float((np.exp(eta) - model.y * eta).sum() / dispersion + beta @ prior @ beta / 2)

    def slope(beta):
        return x.T @ (np.exp(model.offset + x @ beta) - model.y) / dispersion + prior @ beta

    def bend(beta):
        return (x.T * np.exp(model.offset + x @ beta) / dispersion) @ x + prior

    wanted = minimize(loss, np.zeros(x.shape[1]), jac=slope, hess=bend, method="trust-exact", options={"gtol": 1e-9})
    beta, least = fitting.minimised(model, dispersion, np.zeros(x.shape[1]))
    assert beta == pytest.approx(wanted.x, abs=1e-6) and least == pytest.approx(wanted.fun, rel=1e-10)
    whole = np.linalg.inv(bend(wanted.x))
    found, used = fitting.covariance(model, dispersion, beta)
    assert found == pytest.approx(whole[:3, :3], rel=1e-4, abs=1e-8)
    information = bend(wanted.x) - prior
    hat = whole @ information
    assert used == pytest.approx(float(np.trace(2 * hat - hat @ hat)), rel=1e-5)


def test_without_priors_it_is_the_regression_of_statsmodels():
    model = a_model(sd=300.0)
    model = fitting.model(model.y, model.offset, model.x, [1e-9] * 3, model.level, 1e-9)
    levels = np.eye(model.level.max() + 1)[model.level][:, 1:]
    wanted = sm.GLM(
        model.y, np.column_stack([model.x, levels]), sm.families.Poisson(), offset=model.offset
    ).fit(tol=1e-12)
    beta, _ = fitting.minimised(model, 1.0, np.zeros(3 + 15))
    assert beta[1:3] == pytest.approx(wanted.params[1:3], abs=1e-6)
    assert np.sqrt(np.diag(fitting.covariance(model, 1.0, beta)[0]))[1:3] == pytest.approx(wanted.bse[1:3], rel=1e-5)


def test_a_coefficient_that_is_held_stays_and_the_others_are_at_their_best():
    model = a_model()
    free, least = fitting.minimised(model, 2.0, np.zeros(18))
    held, higher = fitting.minimised(model, 2.0, free, (1, free[1] + 0.5))
    assert held[1] == free[1] + 0.5 and higher > least
    assert fitting.minimised(model, 2.0, free, (1, free[1]))[1] == pytest.approx(least, rel=1e-9)


def test_a_further_prior_draws_towards_zero():
    model = a_model()
    free, _ = fitting.minimised(model, 2.0, np.zeros(18))
    drawn, _ = fitting.minimised(model, 2.0, np.zeros(18), drawn=np.diag([0, 1e4, 0]))
    assert abs(drawn[1]) < 0.2 * abs(free[1])


def test_counts_of_nothing_but_zeros_end_the_steps():
    model = fitting.model(np.zeros(4), np.zeros(4), np.ones((4, 1)), [1e-9])
    beta, loss = fitting.minimised(model, 1.0, np.zeros(2))
    assert beta[0] < -15 and loss < 1e-6


def test_what_never_varies_within_a_level_cannot_be_estimated():
    level = np.array([0, 0, 1, 1])
    apart = np.array([[1.0, 1], [1, 1], [1, 0], [1, 0]])
    mixed = np.array([[1.0, 1], [1, 0], [1, 0], [1, 0]])
    contrast = np.array([0.0, 1.0])
    assert not fitting.estimable(apart, level, contrast)
    assert fitting.estimable(mixed, level, contrast)
    assert fitting.estimable(apart, None, contrast)
