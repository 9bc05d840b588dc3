"""What a comparison is fitted to: counts and hours by arrangement, and what is held fixed, with its priors."""

from . import fitting

HELD = ("outing", "band", "mode", "hour block", "calling or answering")
MUST_SEPARATE = 3  # outing, band, mode: without these told apart there is no ratio
PRIOR_SD = (0.8, 0.8, 0.8, 0.5, 0.7)  # of the effects held fixed, natural logarithm; as HELD
ALSO_SD = 0.8  # of what else is held fixed
PAIR_SD = 0.3  # of a pair of a switching plan
WHERE = {"outing": "on the same outing", "band": "on the same band", "mode": "in the same mode"}


class Design:
    """Counts, hours and columns: free arrangement effects, then the effects held fixed with their priors."""

    def __init__(self, rows, names, reference, also_held=()):
        import numpy as np

        self.names, self.reference = names, reference
        words = (*HELD, *also_held)
        width = min(len(words), max(len(row.block) for row in rows))
        spreads = (*PRIOR_SD, *[ALSO_SD] * len(also_held))
        factors = [(words[i], [row.block[i] if i < len(row.block) else "" for row in rows], spreads[i])
                   for i in range(width)]
        factors.append(("pair of the switching plan", [row.pair for row in rows], PAIR_SD))
        factors = [(word, *coded(values), sd) for word, values, sd in factors if len(set(values)) > 1]
        # the factor with most levels is solved for apart, and the rows go in its order
        many = max(factors, key=lambda factor: len(factor[2]), default=None)
        order = np.argsort(many[1], kind="stable") if many else np.arange(len(rows))
        self.rows = [rows[i] for i in order]
        self.y = np.array([row.contacts for row in self.rows], float)
        self.log_h = np.log([row.on_air_h for row in self.rows])
        self.free = [name for name in names if name != reference]
        mine = [np.array([row.arrangement == name for row in self.rows], float) for name in self.free]
        self.base = np.column_stack([np.ones(len(rows)), *mine])
        self.factors = {word: codes[order] for word, codes, _, _ in factors}
        self.values = {word: levels for word, _, levels, _ in factors}
        self.held = tuple(self.factors)
        self.must = [word for word in (*HELD[:MUST_SEPARATE], *also_held) if word in self.factors]
        columns, precision, self.begins = [self.base], [1e-9] * self.base.shape[1], {}
        for word, _, levels, sd in factors:
            if word != many[0]:
                self.begins[word] = len(precision)
                columns.append(self.dummies(word))
                precision += [1 / sd**2 + 1e-9] * len(levels)
        self.many = many and many[0]
        if many:
            self.begins[self.many] = len(precision)
        self.model = fitting.model(
            self.y, self.log_h, np.column_stack(columns), precision, many and self.factors[many[0]],
            1 / many[3] ** 2 if many else fitting.PINNED,
        )
        self.size = self.model.columns + (len(many[2]) if many else 1)
        clusters = sorted({row.stint for row in self.rows})
        index = {stint: i for i, stint in enumerate(clusters)}
        self.cluster = np.array([index[row.stint] for row in self.rows])
        self.clusters = len(clusters)

    def dummies(self, word):
        """Columns of a factor, one a level."""
        import numpy as np

        return np.eye(len(self.values[word]))[self.factors[word]]

    def effects(self, word, beta):
        """The fitted effects of a factor, one a level."""
        return beta[self.begins[word]:self.begins[word] + len(self.values[word])]

    def column(self, name):
        """Column of an arrangement's effect; None for the reference."""
        return None if name == self.reference else 1 + self.free.index(name)

    def separable(self, name, words=None):
        """Can this arrangement's ratio be told from these factors (else from those that must be told apart)?"""
        import numpy as np

        words = self.must if words is None else words
        x = np.column_stack([self.base, *[self.dummies(word) for word in words if word != self.many]])
        contrast = np.zeros(x.shape[1])
        contrast[self.column(name)] = 1
        return fitting.estimable(x, self.factors[self.many] if self.many in words else None, contrast)

    def reason(self, name):
        """Why an arrangement cannot be told apart from the reference."""
        for word in self.must:
            if not self.separable(name, [word]):
                where = WHERE.get(word, f"with the same {word}")
                return f"never used {where} as {self.reference}: cannot be told apart"
        if len(self.must) > MUST_SEPARATE or not {"outing", "band"} <= set(self.must):
            return f"never used with the same {listed(self.must)} as {self.reference}: cannot be told apart"
        return f"never used on the same band and day as {self.reference}: cannot be told apart"

    def remarks(self):
        """What the intervals have to allow for, since nothing could be held against it."""
        said = []
        for word in self.held:
            if word in self.must:
                continue
            loose = [
                name for name in self.free
                if self.separable(name) and not self.separable(name, [*self.must, word])
            ]
            if loose:
                said.append(
                    f"{', '.join(loose)}: never at the same {word} as the rest; the interval allows for that instead"
                )
        return tuple(said)


def coded(values):
    """Values as whole numbers from 0 in the order of their names, and the different values in that order."""
    import numpy as np

    levels = sorted(set(values), key=str)
    index = {value: i for i, value in enumerate(levels)}
    return np.array([index[value] for value in values]), levels


def listed(words):
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
