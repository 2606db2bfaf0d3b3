"""The one registry of sources: where every formula and fact was read, and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """How a source was used."""

    SEEN = "seen"
    DERIVED = "derived here"
    MEMORY = "from memory, not a check value"
    PRACTICE = "common practice, no source"
    ASSUMPTION = "assumption of this tool"


@dataclass(frozen=True, slots=True)
class Source:
    """One entry: its id, its title with clause or page, and its mark."""

    id: str
    title: str
    mark: Mark

    def __str__(self) -> str:
        return f"{self.title} ({self.mark})"


_ALL = (
    Source(
        "iso5048-main",
        "ISO 5048:1989 clause 4 and DIN 22101 clause 6.2, main resistance; text read in "
        "GB 50431 clause 4.1.2, confirmed by a published worked example",
        Mark.SEEN,
    ),
    Source(
        "iso5048-slope",
        "ISO 5048:1989 clause 4, slope resistance; confirmed by published worked examples",
        Mark.SEEN,
    ),
    Source(
        "din22101-c",
        "DIN 22101:2002-08 clause 6.3.3, secondary resistances all at once by C, from 80 m; "
        "the table of C is from memory except its ends (1.92 at 80 m, 1.03 at 5000 m)",
        Mark.SEEN,
    ),
    Source(
        "iso5048-special",
        "ISO 5048:1989 clause 4, special resistances (idler tilt, skirts, cleaners, ploughs); "
        "form confirmed by a published worked example",
        Mark.SEEN,
    ),
    Source(
        "iso5048-total",
        "ISO 5048:1989 clause 5, driving force and power; confirmed by a worked example",
        Mark.SEEN,
    ),
    Source(
        "iso5048-section",
        "ISO 5048:1989 clause 6, cross-section of the load, parabolic cap (divisor 6); "
        "confirmed by 18 published cells",
        Mark.SEEN,
    ),
    Source(
        "iso5048-slope-section",
        "ISO 5048:1989 clause 6, cross-section of the load on a slope, factor k_1 on the cap",
        Mark.MEMORY,
    ),
    Source(
        "eytelwein",
        "Euler-Eytelwein belt friction; GB 50431 clause 5.1.2 states it for start, steady and "
        "brake cases",
        Mark.SEEN,
    ),
    Source(
        "sag",
        "Parabolic sag between idlers; limit 1 % in steady state by DIN 22101:2002, 0.5 to 2 % "
        "by ISO 5048",
        Mark.SEEN,
    ),
    Source(
        "statics",
        "Statics of a belt at rest: weight along the slope, friction both ways",
        Mark.DERIVED,
    ),
    Source("newton", "Newton's second law for the moving mass of the loop", Mark.DERIVED),
    Source("elastic", "Linear elasticity: energy and stretch of a tensioned strip", Mark.DERIVED),
    Source("geometry", "Plane geometry", Mark.DERIVED),
    Source(
        "arithmetic", "Sum, difference, product, largest or smallest of the inputs", Mark.DERIVED
    ),
    Source(
        "din22101-pulley",
        "DIN 22101 and GB 50431 clause 8.2.1, smallest pulley from carcass thickness",
        Mark.SEEN,
    ),
    Source(
        "load-slides",
        "Load must not slide on the belt: a ≤ g (μ cos δ - sin δ); form read in a published note, "
        "friction 0.5 to 0.7 from memory",
        Mark.SEEN,
    ),
    Source("torque", "Bolt torque T = K d F with nut factor K; textbook relation", Mark.MEMORY),
    Source(
        "belt-stretch",
        "GB 50431 clause 8.6.3: elastic and lasting stretch 1.8 to 2.3 % cotton and polyamide, "
        "1.3 to 1.8 % polyester, 0.2 % steel cord",
        Mark.SEEN,
    ),
    Source(
        "belt-mass",
        "Complete two-ply belts in a published belt list: 1.23 to 1.31 kg/m2 per mm of thickness; "
        "covers 1.1 kg/m2 per mm",
        Mark.SEEN,
    ),
    Source(
        "belt-modulus",
        "Belt stiffness as a multiple of nominal strength: polyamide 4 to 7, polyester 8 to 13, "
        "steel cord 60 to 80",
        Mark.MEMORY,
    ),
    Source(
        "pulley-factor",
        "Tension multiplied by 1.02 to 1.04 at each bend pulley, as a published worked sheet "
        "does; 1 where C covers the pulleys",
        Mark.SEEN,
    ),
    Source(
        "taut-loop",
        "Plane geometry of a taut belt: common tangents of circles that are turned left or "
        "right; the turnings of a closed belt that does not cross itself add up to one turn",
        Mark.DERIVED,
    ),
    Source(
        "vertical-curve",
        "Statics and geometry of a belt in a vertical curve: circle arc, plane sections, "
        "linear belt",
        Mark.DERIVED,
    ),
    Source(
        "iso5048-feed",
        "ISO 5048:1989 clause 4, load brought to belt speed, F_bA = I_V ρ (v - v0); form "
        "confirmed by a published worked example",
        Mark.SEEN,
    ),
    Source(
        "iso5048-secondary",
        "ISO 5048:1989 clause 4 and DIN 22101 clause 6.3.2, secondary resistances one by one: "
        "skirts in the feed zone, belt wrap, pulley bearings, return idler tilt",
        Mark.MEMORY,
    ),
    Source(
        "handbook-pull",
        "North American belt conveyor handbook, effective tension "
        "Te = L Kt (Kx + Ky Wb + 0.015 Wb) + Wm (L Ky ± H) + Tp + Tam + Tac and "
        "Kx = 0.00068 (Wb + Wm) + Ai/Si, as quoted in a technical note on belt scales",
        Mark.SEEN,
    ),
    Source(
        "handbook-factors",
        "North American belt conveyor handbook, factor tables (Ai, Ky, Tp, Tac)",
        Mark.MEMORY,
    ),
    Source(
        "transition",
        "Flat-to-trough transition on straight fibres, ISO 5293 type, with sideways and "
        "upward movement of every fibre; mean over the width equals the mean tension",
        Mark.DERIVED,
    ),
    Source(
        "gb50431-transition",
        "GB 50431 clause 10.4.1: transition at least 8.5 (textile) or 14 (steel cord) times "
        "the height, pulley line raised by at most a third of the trough depth",
        Mark.SEEN,
    ),
    Source(
        "crown",
        "Belt stuck to a crowned pulley: each fibre stretched in proportion to the diameter "
        "under it",
        Mark.DERIVED,
    ),
    Source(
        "din22101-pulley-table",
        "DIN 22101, least pulley diameters by group and use of the permitted tension, as "
        "copied by a published belt table",
        Mark.SEEN,
    ),
    Source(
        "gb50431-pressure",
        "GB 50431 clause 8.2.1: pressure on the pulley at most 0.6 N/mm² steel cord, "
        "0.4 N/mm² textile, 1.2 N/mm² under the cords",
        Mark.SEEN,
    ),
    Source(
        "nist-weibull",
        "NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3, Weibull law and its fit to "
        "lives of which some are suspended",
        Mark.SEEN,
    ),
    Source(
        "meeker-escobar",
        "Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 2, 7, 8, 12",
        Mark.MEMORY,
    ),
    Source(
        "kaplan-meier",
        "Kaplan and Meier, Journal of the American Statistical Association 53 (1958) 457",
        Mark.MEMORY,
    ),
    Source("shape-bias-mean", "Ross, unbiasing factor of the Weibull shape", Mark.MEMORY),
    Source(
        "shape-bias-median",
        "Abernethy, The New Weibull Handbook, median factor of the shape",
        Mark.MEMORY,
    ),
    Source(
        "few-failures",
        "Nelson, 1985, Weibull analysis with few or no failures and an assumed shape; the bound "
        "follows from the Poisson law",
        Mark.MEMORY,
    ),
    Source(
        "weighed-laws",
        "Lawless, Statistical Models and Methods for Lifetime Data, 2003, app. E, pivots of "
        "location and scale; weight for suspended joints found here by simulation",
        Mark.MEMORY,
    ),
    Source(
        "likelihood-ratio",
        "Lawless, Statistical Models and Methods for Lifetime Data, 2003, ch. 5",
        Mark.MEMORY,
    ),
    Source(
        "score",
        "E_n number of ISO/IEC 17043: difference of two results over their expanded uncertainties",
        Mark.MEMORY,
    ),
    Source(
        "nist-line",
        "NIST Statistical Reference Datasets, certified straight lines (Norris) with their "
        "errors; the prediction band follows from them",
        Mark.SEEN,
    ),
    Source(
        "nist-curve",
        "NIST Statistical Reference Datasets, certified curves that level off (Misra1a to 1d)",
        Mark.SEEN,
    ),
    Source(
        "nested-curves",
        "Bates and Watts, Nonlinear Regression Analysis and Its Applications, 1988, ch. 3, extra "
        "sum of squares",
        Mark.MEMORY,
    ),
    Source("aicc", "Hurvich and Tsai, Biometrika 76 (1989) 297, AIC for few readings", Mark.MEMORY),
    Source(
        "age-renewal",
        "Barlow and Proschan, Mathematical Theory of Reliability, 1965, renewal by age; one "
        "published worked value seen",
        Mark.MEMORY,
    ),
    Source(
        "delay-time",
        "Christer and Waller, Journal of the Operational Research Society 35 (1984) 401, delay "
        "between what can be seen and the failure; shares follow in closed form",
        Mark.MEMORY,
    ),
    Source(
        "delay-looks",
        "Baker and Wang, IMA Journal of Mathematics Applied in Business and Industry 3 (1991) 259, "
        "delay times from maintenance records by likelihood; the terms are derived here",
        Mark.MEMORY,
    ),
    Source(
        "palm",
        "Palm's theorem as used by Feeney and Sherbrooke, Management Science 12 (1966) 391: "
        "demand while an order is under way",
        Mark.SEEN,
    ),
    Source(
        "loss-function",
        "Loss function of the Poisson law, appendix table of an operations textbook",
        Mark.SEEN,
    ),
    Source(
        "two-counts",
        "Conditional comparison of two Poisson counts: Przyborowski and Wilenski, Biometrika 31 "
        "(1940) 313",
        Mark.MEMORY,
    ),
    Source("expectation", "Mean of a cost over its chances", Mark.DERIVED),
    Source(
        "look-ahead",
        "One-step look-ahead against the long-run cost: Derman and Sacks 1960; the same rule as "
        "renewal by age of Barlow and Proschan",
        Mark.MEMORY,
    ),
    Source(
        "preposterior",
        "Preposterior analysis: Raiffa and Schlaifer 1961; the terms are derived here and checked "
        "by simulation",
        Mark.MEMORY,
    ),
    Source(
        "binomial-error", "Standard deviation of a share counted in independent runs", Mark.DERIVED
    ),
    Source(
        "sobol",
        "Sobol indices of the variance, first order and total, as the SciPy documentation of "
        "scipy.stats.sobol_indices describes its estimator",
        Mark.SEEN,
    ),
    Source("practice", "Trade knowledge", Mark.PRACTICE),
    Source(
        "assumption",
        "Named assumption, to be replaced by a measured or stated value",
        Mark.ASSUMPTION,
    ),
    Source(
        "anatomy",
        "Geometry of the hinged bolted-plate joint as drawn in docs/anatomy.md",
        Mark.DERIVED,
    ),
    Source(
        "magnus",
        "WMO-No. 8 (Guide to Instruments and Methods of Observation), Annex 4.B: Magnus form of "
        "the vapour pressure over water; constants read in a weather station's manual that prints "
        "the annex",
        Mark.SEEN,
    ),
    Source(
        "step-joint",
        "Geometry of the vulcanised step joint as described in docs/anatomy.md",
        Mark.DERIVED,
    ),
    Source(
        "range",
        "The fastener range's own data file; the maker's instructions take precedence",
        Mark.ASSUMPTION,
    ),
    # The load on every plate, damage, squaring, bolts.
    Source(
        "membrane",
        "Plane stress of a long strip that is stiff along and soft in shear, far end even; the "
        "decay length is the known one of St Venant's principle for such strips",
        Mark.DERIVED,
    ),
    Source(
        "shear-bending",
        "Bending of a long beam in its own plane with shear, held or under tension",
        Mark.DERIVED,
    ),
    Source(
        "least-squares",
        "Least squares of a straight line and of a parabola, Student's t for the interval of a "
        "slope; textbook relations, checked against numpy.polyfit and certified NIST lines",
        Mark.DERIVED,
    ),
    Source(
        "pin-beam",
        "Bending of a straight round bar (Euler and Bernoulli), free at both ends under loads "
        "that hold each other in balance",
        Mark.DERIVED,
    ),
    Source(
        "iso-thread",
        "ISO 68-1 and ISO 724 thread profile, ISO 898-1 stress area; profile derived again, "
        "areas agree with the tables as remembered",
        Mark.DERIVED,
    ),
    Source(
        "screw",
        "Torque of a screw as an inclined plane with friction at a 30 degree flank, and of the "
        "nut face; the form of ISO 16047 and of textbooks",
        Mark.DERIVED,
    ),
    Source(
        "relaxation",
        "Force in compressed rubber falls with the logarithm of time; textbook relation",
        Mark.MEMORY,
    ),
)

SOURCES: dict[str, Source] = {source.id: source for source in _ALL}
"""Every source by its id."""
