"""What must be thought of before a formula is approved: drugs, copper, urea, mould toxins.

The findings name the rule where there is one. They advise; a nutritionist or a veterinarian
decides, and the record says who approved.
"""

from collections.abc import Iterator, Mapping

from bedstone.mill.contents import contents_of, limits_of
from bedstone.mill.model import Limit, Mill, Product
from bedstone.mill.plan import Finding, Verdict

__all__ = ["cautions_of"]

RUMINANTS = frozenset({"beef cattle", "dairy cattle", "cattle", "sheep", "goat"})
NPN_RULE = "state commercial feed rules on non-protein nitrogen, such as OAR 603-058-0180"
NPN_NON_RUMINANT_PCT = 1.25
NPN_CAUTION_PCT = 8.75
NPN_CAUTION_SHARE = 1 / 3
COPPER_LABEL_MG_KG = 20.0
COPPER_SHEEP_MG_KG = 15.0
COPPER_RULE = "WAC 16-250-057: least and most copper on the tag if it is added or above 20 mg/kg"
COPPER_SHEEP = "In Practice 19(9), p. 503 (review: safe maximum for sheep 15 mg/kg)"
DRUG_RULES: Mapping[str, str] = {
    "monensin": "21 CFR 558.355(d)(6): keep horses and other equines off, it has been fatal to them",
    "salinomycin": "21 CFR 558.550: may be fatal to horses and adult turkeys; no eggs for people",
}
DRUG_RULE = "21 CFR 225 and 558, and the label of the Type A article"
FUMONISIN_MG_KG: Mapping[str, float] = {
    "horse": 1.0,
    "rabbit": 1.0,
    "swine": 10.0,
    "layer": 15.0,
    "dairy cattle": 15.0,
}
FUMONISIN_OTHERS_MG_KG = 5.0
FUMONISIN_RULE = "FDA guidance on fumonisins: most in the complete diet of the class of animal"
AFLATOXIN_RULE = "FDA CPG 683.100: 20 ppb for dairy animals and where the use is not known"
FUMONISIN, AFLATOXIN = "fumonisin", "aflatoxin"
EACH_PPM = 1e6

ASK_NUTRITIONIST = "the nutritionist decides"
ASK_VETERINARIAN = "ask the veterinarian and the nutritionist; follow the label"


def cautions_of(
    mill: Mill, product: str, shares: Mapping[str, float], levels: Mapping[str, float]
) -> tuple[Finding, ...]:
    """Findings about what a formula could do to animals.

    Parameters
    ----------
    mill : Mill
        The mill.
    product : str
        Product.
    shares : mapping of str to float
        The formula, 0 to 1 each.
    levels : mapping of str to float
        Levels of the finished feed where they are known: "crude protein" and "NPN protein" in %,
        "fumonisin" and "aflatoxin" in mg/kg.
    """
    row = mill.product(product)
    content: dict[str, float] = {}
    for code, share in shares.items():
        for substance, content_mg_kg in contents_of(mill, code).items():
            content[substance] = content.get(substance, 0.0) + share * content_mg_kg
    return (
        *_limits(mill, row, content),
        *_drugs(mill, row, shares, content),
        *_copper(mill, row, content),
        *_non_protein_nitrogen(row, levels),
        *_toxins(mill, row, shares, levels),
    )


def _limits(mill: Mill, product: Product, content: Mapping[str, float]) -> Iterator[Finding]:
    for limit in limits_of(mill, product.product):
        own = content.get(limit.substance, 0.0)
        most = (limit.level_mg_kg or 0.0) if limit.kind == "level" else 0.0
        if own > most:
            yield Finding(
                code="formula.limit",
                verdict=Verdict.STOP,
                about=product.product,
                text=f"{product.name} would hold {own:.4g} mg/kg of {_name(mill, limit)}; "
                + (f"at most {most:g} mg/kg." if most else "none may be put in on purpose."),
                value=own,
                limit=most,
                unit="mg/kg",
                source=limit.source,
                do=ASK_VETERINARIAN,
            )


def _name(mill: Mill, limit: Limit) -> str:
    row = mill.substance_by_code.get(limit.substance)
    return (row.name if row is not None else limit.substance).lower()


def _drugs(
    mill: Mill, product: Product, shares: Mapping[str, float], content: Mapping[str, float]
) -> Iterator[Finding]:
    for code in shares:
        bought, made = mill.ingredient_by_code.get(code), mill.product_by_code.get(code)
        is_drug = bought is not None and bought.ingredient_class == "drug"
        if not is_drug and not (made is not None and made.medicated):
            continue
        inside = sorted(set(contents_of(mill, code)) & DRUG_RULES.keys())
        level = f" ({content[inside[0]]:.4g} mg/kg of {inside[0]})" if inside else ""
        allowed = product.medicated
        yield Finding(
            code="formula.drug",
            verdict=Verdict.NOTE if allowed else Verdict.STOP,
            about=product.product,
            text=f"{product.name} holds {mill.name_of(code)}{level}"
            + (
                ". Level, animal and withdrawal must be those of the label."
                if allowed
                else ", but products.csv does not say that it is medicated."
            ),
            source="; ".join(DRUG_RULES[name] for name in inside) or DRUG_RULE,
            do=ASK_VETERINARIAN,
        )


def _copper(mill: Mill, product: Product, content: Mapping[str, float]) -> Iterator[Finding]:
    own = content.get("copper", 0.0)
    if product.species in {"sheep", "goat"} and own > COPPER_LABEL_MG_KG:
        tag = [
            row
            for row in mill.guarantees
            if row.product == product.product and row.nutrient == "copper"
        ]
        if not any(row.minimum is not None and row.maximum is not None for row in tag):
            yield _copper_finding(
                product, own, Verdict.ACT, COPPER_LABEL_MG_KG,
                text=f"{product.name} would hold {own:.3g} mg/kg of copper, and its tag lacks the "
                "least and the most of it.",
                source=COPPER_RULE,
                do="put both on the tag",
            )  # fmt: skip
    if product.species != "sheep" and own > COPPER_SHEEP_MG_KG:
        said = "sheep" in product.caution.lower()
        act = own > COPPER_LABEL_MG_KG and not said
        yield _copper_finding(
            product, own, Verdict.ACT if act else Verdict.NOTE, COPPER_SHEEP_MG_KG,
            text=f"{product.name} would hold {own:.3g} mg/kg of copper: sheep that eat it may die."
            + ("" if said else " Its caution does not say so."),
            source=COPPER_SHEEP,
            do="keep it from sheep" if said else "write into its caution: do not feed to sheep",
        )  # fmt: skip


def _copper_finding(
    product: Product,
    own: float,
    verdict: Verdict,
    limit: float,
    *,
    text: str,
    source: str,
    do: str,
) -> Finding:
    return Finding(
        code="formula.copper",
        verdict=verdict,
        about=product.product,
        text=text,
        value=own,
        limit=limit,
        unit="mg/kg",
        source=source,
        do=do,
    )


def _non_protein_nitrogen(product: Product, levels: Mapping[str, float]) -> Iterator[Finding]:
    npn, protein = levels.get("NPN protein", 0.0), levels.get("crude protein")
    if npn <= 0:
        return
    ruminant = product.species in RUMINANTS
    share = npn / protein if protein else 1.0
    if not ruminant and npn > NPN_NON_RUMINANT_PCT:
        verdict, limit = Verdict.STOP, NPN_NON_RUMINANT_PCT
        text = f"{product.name} is not for ruminants"
        do = "take the urea out"
    elif npn > NPN_CAUTION_PCT or share > NPN_CAUTION_SHARE:
        warned = "urea" in product.caution.lower() or "nitrogen" in product.caution.lower()
        verdict, limit = (Verdict.NOTE if warned else Verdict.ACT), NPN_CAUTION_PCT
        text = f"{product.name} needs the caution and directions for urea on its tag"
        do = "" if warned else "write caution and directions for use into its caution"
    else:
        verdict, limit = Verdict.NOTE, NPN_CAUTION_PCT
        text = f"{product.name} is for ruminants only"
        do = ASK_NUTRITIONIST
    yield Finding(
        code="formula.npn",
        verdict=verdict,
        about=product.product,
        text=f"{text}: {npn:.3g} % equivalent protein from non-protein nitrogen, "
        f"{share * 100:.0f} % of its protein. Too much kills.",
        value=npn,
        limit=limit,
        unit="%",
        source=NPN_RULE,
        do=do or ASK_NUTRITIONIST,
    )


def _toxins(
    mill: Mill, product: Product, shares: Mapping[str, float], levels: Mapping[str, float]
) -> Iterator[Finding]:
    corn_frac = sum(
        share * contents_of(mill, code).get("corn", 0.0) / EACH_PPM
        for code, share in shares.items()
    )
    most = FUMONISIN_MG_KG.get(product.species, FUMONISIN_OTHERS_MG_KG)
    level = levels.get(FUMONISIN)
    if level is not None and level > most:
        yield Finding(
            code="formula.toxin",
            verdict=Verdict.STOP,
            about=product.product,
            text=f"{product.name} would hold {level:.3g} mg/kg of fumonisin.",
            value=level,
            limit=most,
            unit="mg/kg",
            source=FUMONISIN_RULE,
            do=ASK_VETERINARIAN,
        )
    unknown = [name for name in (FUMONISIN, AFLATOXIN) if levels.get(name) is None]
    if corn_frac > 0 and unknown:
        yield Finding(
            code="formula.toxin",
            verdict=Verdict.NOTE,
            about=product.product,
            text=f"{product.name} is {corn_frac * 100:.0f} % corn and its by-products, and nothing "
            f"is known of {' and '.join(unknown)} in it.",
            source=FUMONISIN_RULE if unknown == [FUMONISIN] else AFLATOXIN_RULE,
            do="have the corn tested; " + ASK_VETERINARIAN,
        )
