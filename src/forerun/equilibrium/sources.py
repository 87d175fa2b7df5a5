"""The papers behind the activity models, by key."""

from __future__ import annotations

from forerun.core.references import Reference

__all__ = ["EQUILIBRIUM_REFERENCES"]

_TABLES = "numbers as carried by the open library thermo (MIT licence), paper not seen"
_MEMORY = "from memory"

_LIST = (
    Reference(
        "fredenslund1975",
        "Fredenslund, Jones, Prausnitz, AIChE J. 21 (1975) 1086",
        "10.1002/aic.690210607",
        _TABLES,
    ),
    Reference(
        "skjold1979",
        "Skjold-Jørgensen, Kolbe, Gmehling, Rasmussen, "
        "Ind. Eng. Chem. Process Des. Dev. 18 (1979) 714",
        "10.1021/i260072a024",
        _TABLES,
    ),
    Reference(
        "gmehling1982",
        "Gmehling, Rasmussen, Fredenslund, Ind. Eng. Chem. Process Des. Dev. 21 (1982) 118",
        "10.1021/i200016a021",
        _TABLES,
    ),
    Reference(
        "macedo1983",
        "Macedo, Weidlich, Gmehling, Rasmussen, Ind. Eng. Chem. Process Des. Dev. 22 (1983) 676",
        "10.1021/i200023a023",
        _TABLES,
    ),
    Reference(
        "tiegs1987",
        "Tiegs, Gmehling, Rasmussen, Fredenslund, Ind. Eng. Chem. Res. 26 (1987) 159",
        "10.1021/ie00061a030",
        _TABLES,
    ),
    Reference(
        "hansen1991",
        "Hansen, Rasmussen, Fredenslund, Schiller, Gmehling, Ind. Eng. Chem. Res. 30 (1991) 2352",
        "10.1021/ie00058a017",
        _TABLES,
    ),
    Reference(
        "wittig2003",
        "Wittig, Lohmann, Gmehling, Ind. Eng. Chem. Res. 42 (2003) 183",
        "10.1021/ie020506l",
        _TABLES,
    ),
    Reference(
        "weidlich1987",
        "Weidlich, Gmehling, Ind. Eng. Chem. Res. 26 (1987) 1372",
        "10.1021/ie00067a018",
        _TABLES,
    ),
    Reference(
        "gmehling1993",
        "Gmehling, Li, Schiller, Ind. Eng. Chem. Res. 32 (1993) 178",
        "10.1021/ie00013a024",
        _TABLES,
    ),
    Reference(
        "gmehling1998",
        "Gmehling, Lohmann, Jakob, Li, Joh, Ind. Eng. Chem. Res. 37 (1998) 4876",
        "10.1021/ie980347z",
        _TABLES,
    ),
    Reference(
        "gmehling2002",
        "Gmehling, Wittig, Lohmann, Joh, Ind. Eng. Chem. Res. 41 (2002) 1678",
        "10.1021/ie0108043",
        _TABLES,
    ),
    Reference(
        "jakob2006",
        "Jakob, Grensemann, Lohmann, Gmehling, Ind. Eng. Chem. Res. 45 (2006) 7924",
        "10.1021/ie060355c",
        _TABLES,
    ),
    Reference(
        "kang2015",
        "Kang, Diky, Frenkel, Fluid Phase Equilib. 388 (2015) 128",
        "10.1016/j.fluid.2014.12.042",
        _TABLES,
    ),
    Reference(
        "marek1954",
        "Marek, Standart, Collect. Czech. Chem. Commun. 19 (1954) 1074",
        "10.1135/cccc19541074",
        _MEMORY,
    ),
    Reference(
        "redlich1948",
        "Redlich, Kister, Ind. Eng. Chem. 40 (1948) 345",
        "10.1021/ie50458a036",
        _MEMORY,
    ),
)

EQUILIBRIUM_REFERENCES = {reference.key: reference for reference in _LIST}
