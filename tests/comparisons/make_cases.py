"""Makes the expected figures of this folder, apart from the program: numpy and scipy only. Written from the definitions."""
import itertools, json, pathlib
import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy.optimize import brentq
from scipy.special import betainc, expit
from scipy.stats import binomtest, norm, t as student

here = pathlib.Path(__file__).parent
rng = np.random.default_rng(7)

def survival_scores(x, nd):
    """Peto and Peto by the right-censored view: times are minus the values; S is the product-limit estimate."""
    t, dead = -x, ~nd
    scores, s = np.zeros(len(x)), 1.0
    for u in np.unique(t):
        here = t == u
        at_risk, d = np.sum(t >= u), np.sum(here & dead)
        after = s * (1 - d / at_risk)
        scores[here & dead], scores[here & ~dead] = s + after - 1, after - 1
        s = after
    return scores

def peto_trend(x, nd, group, weights):
    """Weighted log-rank trend with S(t-) weights, hypergeometric variance."""
    t, dead, a = -x, ~nd, np.asarray(weights, float)[group]
    u = v = 0.0
    s = 1.0
    for time in np.unique(t[dead]):
        risk, here = t >= time, (t == time) & dead
        n, d = risk.sum(), here.sum()
        u += s * (a[here].sum() - d * a[risk].mean())
        if n > 1:
            v += s * s * d * (n - d) / (n - 1) * a[risk].var()
        s *= 1 - d / n
    z = u / np.sqrt(v)
    return z, 2 * norm.sf(abs(z))

ranks = []
for sizes in [(8, 7, 9), (20, 5, 5), (12, 12)]:
    group = np.repeat(np.arange(len(sizes)), sizes)
    x = np.round(np.exp(rng.normal(size=len(group)) + 0.3 * group), 1) + 0.1
    limit = rng.choice([0.5, 1.0, 2.0], size=len(group))
    nd = x < limit
    x = np.where(nd, limit, x)
    z, p = peto_trend(x, nd, group, range(len(sizes)))
    ranks.append(dict(values=x.tolist(), nondetect=nd.tolist(), group=group.tolist(), z=z, p=p,
                      scores=survival_scores(x, nd).tolist()))

def neighbours_p(places, y, x):
    """Clifford, Richardson and Hemon's variance over every pair; the class of a pair by the coarsest squares that tell it apart."""
    n = len(y)
    y, x = (y - y.mean()) / y.std(), (x - x.mean()) / x.std()
    finest = next(h for h in (6, 7, 8) if h == 8 or n <= 4 ** h)
    low = places.min(0)
    unit = (places - low) / (places - low).max()
    square = {h: np.minimum((unit * 2 ** h).astype(int), 2 ** h - 1) for h in range(4, finest + 1)}
    sums = {}
    for i, j in itertools.combinations(range(n), 2):
        apart = lambda h: np.abs(square[h][i] - square[h][j])
        h = next((h for h in range(4, finest + 1) if apart(h).max() > 2), finest)
        d = np.hypot(*apart(h)) * 2 ** (finest - h)
        s = sums.setdefault(0 if d == 0 else 1 + int(3 * np.log2(d)), np.zeros(3))
        s += 1, y[i] * y[j], x[i] * x[j]
    variance = max((n + 2 * sum(a * b / m for m, a, b in sums.values())) / n ** 2, 1 / (n - 1))
    effective, r = min(1 + 1 / variance, n), float(np.mean(y * x))
    statistic = abs(r) * np.sqrt((effective - 2) / (1 - r * r))
    return dict(r=r, variance=variance, effective=effective, p=2 * student.sf(statistic, effective - 2))

neighbours = []
for n, waves in [(40, 9), (150, 6), (150, 0), (300, 12)]:
    places = rng.random((n, 2)) * [30000, 21000]
    heights = [np.sin(waves * places[:, k] / 21000 + k) + rng.normal(size=n) / 2 for k in (0, 1)]
    exposure, outcome = np.digitize(heights[0], [0, 0.6]).astype(float), (heights[1] > 0.4).astype(float)
    neighbours.append(dict(places=places.tolist(), outcome=outcome.tolist(), exposure=exposure.tolist(),
                           **neighbours_p(places, outcome, exposure)))

paired = [dict(up=u, down=d, p=binomtest(min(u, d), u + d, 0.5).pvalue)
          for u, d in [(0, 1), (1, 5), (6, 6), (3, 17), (41, 39), (120, 80), (1500, 1300)]]

def small_areas(exceeding, wells, concern=0.05, angles=120, means=4001):
    """Beta-binomial rates with mean and spread integrated out: the mean uniform, sqrt(n0 / k) half-Cauchy. That is, its angle is uniform on a
    quarter turn: Gauss and Legendre over the angle, even steps over the logit of the mean."""
    x, n = np.array(exceeding), np.array(wells)
    n0 = np.median(n[n > 0])
    node, angle_weight = leggauss(angles)
    # The angle as the square of a sine, so that both ends are dense too.
    # Areas whose concentration is two thousand times all wells are as good as alike.
    k = np.minimum(n0 / np.tan(np.pi / 2 * np.sin(np.pi / 4 * (node + 1)) ** 2) ** 2, 2000 * n.sum())
    angle_weight = angle_weight * np.sin(np.pi / 2 * (node + 1))
    logit = np.linspace(-20, 20, means)
    mean, rest = expit(logit), expit(-logit)
    a, b = np.outer(k, mean).ravel(), np.outer(k, rest).ravel()
    # scipy's betaln is infinite where one parameter is tiny and the other is not.
    rising = lambda start, count: sum((np.log(start + i) for i in range(count)), np.zeros_like(start))
    height = np.log(np.outer(angle_weight, mean * rest).ravel())
    for hits, of in zip(x, n):
        height += rising(a, hits) + rising(b, of - hits) - rising(a + b, of)
    weight = np.exp(height - height.max())
    keep = weight > 1e-8 * weight.max()
    a, b, weight = a[keep], b[keep], weight[keep] / weight[keep].sum()

    def area(hits, of):
        below = lambda rate: weight @ betainc(a + hits, b + of - hits, rate)

        def end(share):
            beyond = [below(expit(-14)) > share, below(expit(14)) < share]
            return float(beyond[1]) if any(beyond) else expit(brentq(lambda y: below(expit(y)) - share, -14, 14, xtol=1e-7))

        return dict(mean=weight @ ((a + hits) / (a + b + of)), low=end(0.025), high=end(0.975), chance_above=1 - below(concern))

    return dict(exceeding=exceeding, wells=wells, rates=[area(hits, of) for hits, of in zip(x, n)])


areas = [
    small_areas([3], [20]),
    small_areas([0, 1, 0, 3, 2, 0, 5, 1], [6, 12, 3, 20, 9, 1, 25, 30]),
    small_areas([0, 0, 0, 1, 0, 0], [30, 45, 12, 60, 22, 8]),
    small_areas([0, 0, 0, 0, 0], [4, 10, 0, 25, 7]),
    small_areas([5, 0, 5, 0], [5, 5, 5, 4]),
    small_areas([2, 2, 3, 2, 2, 3, 2, 2], [40, 42, 40, 41, 40, 44, 40, 40]),
]

for name, cases in dict(ranks=ranks, neighbours=neighbours, paired=paired, **{"small-areas": areas}).items():
    (here / f"{name}.json").write_text(json.dumps(cases) + "\n")
