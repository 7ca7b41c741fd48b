"""Random weeks of products on shared materials, as arrays and as one plain linear program."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp

from bedstone.formulation.joint_arrays import JointArrays, ProductArrays, Tier

Floats = npt.NDArray[np.float64]


def random_week(
    seed: int,
    *,
    products: int,
    materials: int,
    nutrients: int,
    scarce: float = 0.35,
    own: int = 0,
    plenty: float = 1.0,
) -> JointArrays:
    """A week whose products can all be made alone; some materials may be scarce.

    Each product has its own levels (10 % around a table), limits around a random formula, and
    tons of a lognormal size. A material comes in three tiers; that of a part ``scarce`` of them
    ends at about seven tenths of what random formulas use, times ``plenty``. ``own`` further
    ingredients of each product are bought freely.
    """
    rng = np.random.default_rng(seed)
    size = materials + own
    table = rng.gamma(1.2, 1.0, size=(nutrients, size)) * rng.uniform(0.5, 20, size=(nutrients, 1))
    price = np.clip(rng.normal(300, 90, size), 60, None)
    found, use_t = [], np.zeros(materials)
    for _ in range(products):
        levels = table * np.clip(1 + 0.1 * rng.standard_normal(table.shape), 0.3, 2)
        formula = rng.dirichlet(np.full(size, 0.15))
        level = levels @ formula
        lower = np.where(
            rng.random(nutrients) < 0.6, level * rng.uniform(0.8, 1, nutrients), -np.inf
        )
        upper = np.where(
            rng.random(nutrients) < 0.6, level * rng.uniform(1, 1.2, nutrients), np.inf
        )
        mass_t = float(rng.lognormal(2.5, 0.7))
        use_t += mass_t * formula[:materials]
        found.append(
            ProductArrays(
                mass_t=mass_t,
                matrix=np.vstack([np.ones(size), levels]),
                row_lower=np.concatenate([[1.0], lower]),
                row_upper=np.concatenate([[1.0], upper]),
                lower=np.zeros(size),
                upper=np.minimum(1.0, 3 * formula + rng.uniform(0.02, 0.4, size)),
                own_usd_t=price * rng.uniform(0.9, 1.3, size),
                material=np.where(np.arange(size) < materials, np.arange(size), -1),
            )
        )
    tiers = []
    for material in range(materials):
        about_t = plenty * (use_t[material] + 0.002 * use_t.sum())
        limited = rng.random() < scarce
        for part, dearer in ((0.3, 1.0), (0.2, 1.05), (0.2, 1.2)):
            last = dearer > 1.1
            tiers.append(
                Tier(
                    material=material,
                    price_usd_t=float(price[material] * dearer * rng.uniform(0.97, 1.03)),
                    most_t=None if last and not limited else part * about_t,
                )
            )
    return JointArrays(products=tuple(found), materials=materials, tiers=tuple(tiers))


@dataclass(frozen=True)
class PlainProgram:
    """Everything at once: columns are all products' tons of ingredients, then the tiers."""

    cost: Floats
    matrix: sp.csc_array
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats


def plain_program(week: JointArrays) -> PlainProgram:
    """A week as one linear program in tons, built apart from the code that it judges."""
    blocks, links = [], []
    for product in week.products:
        blocks.append(sp.csr_array(product.matrix))
        size = len(product.own_usd_t)
        shared = np.nonzero(product.material >= 0)[0]
        links.append(
            sp.csr_array(
                (np.ones(len(shared)), (product.material[shared], shared)),
                shape=(week.materials, size),
            )
        )
    tiers = sp.csr_array(
        (
            -np.ones(len(week.tiers)),
            ([tier.material for tier in week.tiers], range(len(week.tiers))),
        ),
        shape=(week.materials, len(week.tiers)),
    )
    top = sp.hstack(
        [sp.block_diag(blocks), sp.csr_array((sum(b.shape[0] for b in blocks), len(week.tiers)))]
    )
    return PlainProgram(
        cost=np.concatenate(
            [
                *(np.where(p.material < 0, p.own_usd_t, 0.0) for p in week.products),
                [tier.price_usd_t for tier in week.tiers],
            ]
        ),
        matrix=sp.csc_array(sp.vstack([top, sp.hstack([*links, tiers])])),
        row_lower=np.concatenate(
            [*(p.mass_t * p.row_lower for p in week.products), np.full(week.materials, -np.inf)]
        ),
        row_upper=np.concatenate(
            [*(p.mass_t * p.row_upper for p in week.products), np.zeros(week.materials)]
        ),
        lower=np.concatenate(
            [*(p.mass_t * p.lower for p in week.products), np.zeros(len(week.tiers))]
        ),
        upper=np.concatenate(
            [
                *(p.mass_t * p.upper for p in week.products),
                [np.inf if tier.most_t is None else tier.most_t for tier in week.tiers],
            ]
        ),
    )
