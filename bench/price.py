"""How long the price of a large job takes: 200 quote lines, and 60 items over five years.

Run: python bench/price.py
"""

import time
import tomllib
from datetime import date
from importlib.resources import files
from random import Random

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Site, Survey
from bolewalk.model.trees import Species, Tree
from bolewalk.pricing.debris import TreeMaterial
from bolewalk.pricing.phase_items import PhaseItem, PhasePlan
from bolewalk.pricing.phases import plan_phases
from bolewalk.pricing.price import Price, price_survey
from bolewalk.pricing.rates import Rates, read_rates


def example_rates() -> Rates:
    """Give the example rates of the package."""
    text = files("bolewalk.pricing").joinpath("data/example_rates.toml").read_text("utf-8")
    rates, problems = read_rates(tomllib.loads(text), file="rates.toml")
    assert rates is not None, problems
    return rates


def large_survey(n: int, *, seed: int) -> tuple[Survey, dict[str, TreeMaterial]]:
    """Give a survey of `n` invented trees to prune or remove."""
    rng = Random(seed)
    trees, materials = [], {}
    for k in range(n):
        trunk, height = rng.uniform(15, 110), rng.uniform(5, 26)
        mass = 0.05 * trunk**2 * height
        name = f"T{k + 1}"
        materials[name] = TreeMaterial(mass, 0.7 * mass, 1.4 * mass, 0.6 * mass, 0.1 * mass)
        trees.append(
            Tree(
                name,
                Species(None, None, "invented"),
                stems_cm=(Figure(trunk, "measured"),),
                height_m=Figure(height, "estimated"),
                owner="client",
                decision="remove" if k % 3 == 0 else "prune",
                notes=rng.choice(("crown clean", "reduce over roof", "raise", "")),
            )
        )
    survey = Survey(
        "Bench", date(2026, 5, 12), "imperial", "estimate", Method("inch-foot"),
        site=Site(slope_pct=8.0), trees=tuple(trees),
    )  # fmt: skip
    return survey, materials


def quote() -> None:
    """Price 150 trees, 200 lines."""
    survey, materials = large_survey(150, seed=7)
    rates = example_rates()
    start = time.perf_counter()
    price: Price = price_survey(survey, rates, materials=materials)
    took = time.perf_counter() - start
    print(f"quote: {len(price.lines)} lines, 10,000 runs, {took:.2f} s")
    print(
        f"  {price.total_minor / 100:,.2f} {price.currency} "
        f"({price.low_minor / 100:,.2f} to {price.high_minor / 100:,.2f}), "
        f"{price.crew_hours:.0f} crew hours, {price.loads.count} loads"
    )


def large_plan(n: int, *, seed: int) -> PhasePlan:
    """Give `n` invented items over five years, budgets a little above what they need."""
    rng = Random(seed)
    items = tuple(
        PhaseItem(
            f"i{k}",
            "work",
            rng.randint(100, 3000) * 100,
            growth_pct=rng.choice((0, 0, 5, 10, 25)),
            after=(f"i{rng.randrange(k)}",) if k > 5 and rng.random() < 0.3 else (),
            latest=2 if rng.random() < 0.1 else None,
            season=rng.choice((None, None, "fall")),
        )
        for k in range(n)
    )
    visit = 30000
    budget = round(sum(i.cost_minor for i in items) * 1.15 / 5) + visit
    return PhasePlan(items, (budget,) * 5, visit, ties=("i1", "i2"))


def phasing() -> None:
    """Plan 60 items over five years, three schedules."""
    for seed in range(3):
        plan = large_plan(60, seed=seed)
        start = time.perf_counter()
        found = plan_phases(plan).best
        took = time.perf_counter() - start
        proven = all(s.proven for s in found)
        totals = ", ".join(f"{s.total_minor / 100:,.2f}" for s in found)
        print(f"phasing {seed}: 60 items, 5 years, {took:.1f} s, proven: {proven}; {totals}")


if __name__ == "__main__":
    quote()
    phasing()
