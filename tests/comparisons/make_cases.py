"""Makes the expected figures of this folder, apart from the program: numpy and scipy only. Written from the definitions."""
import itertools, json, pathlib
import numpy as np
from scipy.stats import binomtest, norm

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

def block_p(block, y, x):
    """All orders of the blocks; those of a class change places (one class here: at most twelve blocks)."""
    y = np.asarray(y) - np.mean(y)
    ids = sorted(set(block))
    lists = [[i for i, b in enumerate(block) if b == k] for k in ids]
    lists.sort(key=len)
    def total(order):
        out = 0.0
        for here, come in zip(lists, order):
            come = lists[come]
            for j, well in enumerate(here):
                out += y[well] * x[come[int((j + 0.5) * len(come) / len(here))]]
        return out
    seen = total(range(len(lists)))
    all_of = [total(order) for order in itertools.permutations(range(len(lists)))]
    return seen, float(np.mean(np.abs(all_of) >= abs(seen) - 1e-9))

blocks = []
for sizes in [(3, 3, 3, 3, 3, 3), (2, 5, 3, 4, 3, 6, 2), (1, 1, 2, 2, 9, 4)]:
    block = np.repeat(np.arange(len(sizes)), sizes)
    exposure = np.clip(rng.integers(0, 3, len(sizes))[block] + rng.integers(-1, 2, len(block)), 0, 2)
    outcome = (rng.random(len(block)) < 0.2 + 0.3 * (exposure == 2)).astype(float)
    statistic, p = block_p(block.tolist(), outcome, exposure.astype(float))
    blocks.append(dict(block=block.tolist(), outcome=outcome.tolist(), exposure=exposure.astype(float).tolist(),
                       statistic=statistic, p=p))

paired = [dict(up=u, down=d, p=binomtest(min(u, d), u + d, 0.5).pvalue)
          for u, d in [(0, 1), (1, 5), (6, 6), (3, 17), (41, 39), (120, 80), (1500, 1300)]]

for name, cases in dict(ranks=ranks, blocks=blocks, paired=paired).items():
    (here / f"{name}.json").write_text(json.dumps(cases) + "\n")
