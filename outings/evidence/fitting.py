"""Fitting of an additive model of counts, in which one factor may have very many levels (a thousand outings).

Counts y vary around exp(offset + x b + g[level]); b and g are drawn towards zero by normal priors. The loss
sum(mu - y eta)/dispersion + prior is convex, and Newton's method finds its minimum in a few steps. Since every count
belongs to one level, the block of the second derivatives that belongs to g is diagonal: it is solved for first (Schur
complement), so that a step costs as much as one with the few columns of x. A general solver with all columns took 5 s
for 1,000 stints where this takes a hundredth; tests/outings/evidence/test_fitting.py holds the two together.
"""

from dataclasses import dataclass, replace

PINNED = 1e12  # precision of the prior where there is no factor of many levels
STEPS = 120
NEAR = 1e-12  # half of Newton's decrement, which bounds how far the loss lies above its minimum
LONGEST = 5.0  # of a step, natural logarithm
STEEPEST = 40.0  # of a linear predictor


@dataclass(frozen=True)
class Model:
    """Counts and what they depend on; the rows are in the order of `level`, whose values run from 0 without a gap.

    x: columns of b; prior: matrix of their precision; level_precision: of the prior of each g.
    """

    y: object
    offset: object
    x: object
    prior: object
    level: object
    level_precision: float

    @property
    def columns(self):
        return self.x.shape[1]

    def eta(self, beta):
        import numpy as np

        return np.clip(self.offset + self.x @ beta[: self.columns] + beta[self.columns:][self.level],
                       -STEEPEST, STEEPEST)

    def drawn(self, precision):
        """The model with a further normal prior of the columns' coefficients; the same without one."""
        return self if precision is None else replace(self, prior=self.prior + precision)

    def without(self, column, value):
        """The model in which one coefficient has a given value."""
        import numpy as np

        keep = np.arange(self.columns) != column
        return replace(
            self, offset=self.offset + self.x[:, column] * value, x=self.x[:, keep],
            prior=self.prior[np.ix_(keep, keep)],
        )


@dataclass(frozen=True)
class _Bend:
    """The second derivatives of the loss: across the columns, between columns and levels, along the levels."""

    schur: object
    between: object
    along: object


def model(y, offset, x, precision, level=None, level_precision=PINNED):
    """A Model; without `level` there is no factor of many levels."""
    import numpy as np

    level = np.zeros(len(y), int) if level is None else np.asarray(level)
    return Model(np.asarray(y, float), np.asarray(offset, float), x, np.diag(precision), level, level_precision)


def minimised(of, dispersion, start, fixed=None, drawn=None):
    """Coefficients (those of the columns, then those of the levels) at the minimum of the loss, and the loss.

    `fixed` = (column, value) holds one coefficient; `drawn` is the precision of a further normal prior of the columns.
    """
    import numpy as np

    of = of.drawn(drawn)
    if fixed is None:
        return _newton(of, dispersion, start)
    column, value = fixed
    beta, loss = _newton(of.without(column, value), dispersion, np.delete(start, column))
    return np.insert(beta, column, value), loss


def covariance(of, dispersion, beta, drawn=None):
    """Covariance of the columns' coefficients, and how many degrees of freedom the fit takes from the residuals.

    With A the bend of the loss, P the prior's part of it and H the hat matrix: tr(2H - H²) = n - tr((A^-1 P)²), more
    than tr(H), since coefficients that a prior holds back leave less in the residuals than they take.
    Source: T. J. Hastie and R. J. Tibshirani, Generalized Additive Models (1990), 3.5.
    """
    import numpy as np

    of = of.drawn(drawn)
    bend = _bend(of, dispersion, np.exp(of.eta(beta)))
    found = np.linalg.inv(bend.schur)
    spread = bend.between / bend.along[:, None]
    along = 1 / bend.along + np.einsum("lp,pq,lq->l", spread, found, spread)
    pull, level_pull = np.diag(of.prior), of.level_precision
    among = found @ (spread.T @ spread)
    held = (
        float((np.outer(pull, pull) * found**2).sum())
        + 2 * level_pull * float((pull[:, None] * (found @ spread.T) ** 2).sum())
        + level_pull**2 * float(np.trace(among @ among) + (along**2 - (along - 1 / bend.along) ** 2).sum())
    )
    return found, len(beta) - held


def estimable(x, level, contrast):
    """Whether the data can tell a contrast of the columns' coefficients apart from the levels and from each other."""
    import numpy as np

    if level is not None:
        x = x - _sums(x, level)[level] / np.bincount(level)[level][:, None]
    among = x.T @ x  # of whole numbers and fractions of them; what can be told apart is the same as of x itself
    solution, *_ = np.linalg.lstsq(among, contrast, rcond=1e-10)
    return bool(np.abs(among @ solution - contrast).max() < 1e-7)


def _sums(rows, level):
    """Sums of rows within each level, the rows being in their order."""
    import numpy as np

    starts = np.flatnonzero(np.r_[True, level[1:] != level[:-1]])
    return np.add.reduceat(rows, starts, axis=0)


def _bend(of, dispersion, mu):
    weighted = of.x * (mu / dispersion)[:, None]
    between = _sums(weighted, of.level)
    along = _sums(mu, of.level) / dispersion + of.level_precision
    across = of.x.T @ weighted + of.prior
    return _Bend(across - (between / along[:, None]).T @ between, between, along)


def _newton(of, dispersion, start):
    import numpy as np

    p, beta = of.columns, np.array(start, float)

    def loss_at(beta):
        eta = of.eta(beta)
        mu = np.exp(eta)
        b, g = beta[:p], beta[p:]
        return mu, float((mu - of.y * eta).sum() / dispersion + b @ of.prior @ b / 2 + of.level_precision * (g @ g) / 2)

    mu, loss = loss_at(beta)
    for _ in range(STEPS):
        residual = (mu - of.y) / dispersion
        slope = of.x.T @ residual + of.prior @ beta[:p]
        slopes = _sums(residual, of.level) + of.level_precision * beta[p:]
        bend = _bend(of, dispersion, mu)
        step = np.linalg.solve(bend.schur, bend.between.T @ (slopes / bend.along) - slope)
        steps = -(slopes + bend.between @ step) / bend.along
        down = float(slope @ step + slopes @ steps)
        if -down / 2 < NEAR:
            break
        whole = np.concatenate([step, steps])
        scale = min(1.0, LONGEST / np.abs(whole).max())
        for _ in range(40):
            tried, tried_loss = loss_at(beta + scale * whole)
            if tried_loss <= loss + 1e-4 * scale * down + 1e-12 * abs(loss):
                break
            scale /= 2
        beta, mu, loss = beta + scale * whole, tried, tried_loss
    return beta, loss
