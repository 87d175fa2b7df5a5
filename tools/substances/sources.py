"""The sources that may enter the shipped file, and the tables that may not, each by name.

`chemicals` (MIT licence) carries tables of many origins side by side. A table is read only if it
stands in `TABLES`. What came out of a product made for simulation or out of a commercial data bank
stays out, although the library ships it; `EXCLUDED` gives fragments of the names of such tables
with the reason, for the check that none of them entered.
"""

from __future__ import annotations

from typing import NamedTuple


class Source(NamedTuple):
    """One published source: how it is cited, and the table of `chemicals` that carries it."""

    citation: str
    doi: str = ""
    table: str = ""


THROUGH = "copy of the source as tabulated in the library chemicals (MIT)"

TABLES: dict[str, Source] = {
    "crc_constants": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "Physical Constants of Organic Compounds",
        table="Misc/Physical Constants of Organic Compounds.csv",
    ),
    "crc_inorganic": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "Physical Constants of Inorganic Compounds",
        table="Misc/Physical Constants of Inorganic Compounds.csv",
    ),
    "crc_index": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "refractive indices of organic compounds",
        table="Misc/CRC Handbook Organic RI.csv",
    ),
    "crc_vaporisation": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "Enthalpy of Vaporization",
        table="Phase Change/CRC Handbook Heat of Vaporization.tsv",
    ),
    "crc_critical": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "Critical Constants of Organic Compounds",
        table="Critical Properties/CRCCriticalOrganics.tsv",
    ),
    "crc_thermodynamic": Source(
        "Haynes, W. M. (ed.), CRC Handbook of Chemistry and Physics, 95th ed., CRC Press 2014, "
        "Standard Thermodynamic Properties of Chemical Substances",
        table="Heat Capacity/CRC Standard Thermodynamic Properties of Chemical Substances.tsv",
    ),
    "iupac_critical": Source(
        "Ambrose, D.; Young, C. L.; Tsonopoulos, C. and others, Vapor-Liquid Critical Properties "
        "of Elements and Compounds, parts 1 to 12, J. Chem. Eng. Data 1995 to 2015",
        "10.1021/je950001m",
        "Critical Properties/IUPACOrganicCriticalProps.tsv",
    ),
    "mathews1972": Source(
        "Mathews, J. F., Critical constants of inorganic substances, Chem. Rev. 72 (1972) 71-100",
        "10.1021/cr60275a004",
        "Critical Properties/Mathews1972InorganicCriticalProps.tsv",
    ),
    "webbook": Source(
        "Linstrom, P. J.; Mallard, W. G. (eds.), NIST Chemistry WebBook, NIST Standard Reference "
        "Database 69",
        "10.18434/T4D303",
        "Misc/webbook_constants.tsv",
    ),
    "poling_antoine": Source(
        "Poling, B. E.; Prausnitz, J. M.; O'Connell, J. P., The Properties of Gases and Liquids, "
        "5th ed., McGraw-Hill 2001, appendix A, Antoine constants",
        table="Vapor Pressure/Antoine Collection Poling.tsv",
    ),
    "poling_wagner": Source(
        "Poling, B. E.; Prausnitz, J. M.; O'Connell, J. P., The Properties of Gases and Liquids, "
        "5th ed., McGraw-Hill 2001, appendix A, Wagner constants",
        table="Vapor Pressure/Wagner Collection Poling.tsv",
    ),
    "poling_cp": Source(
        "Poling, B. E.; Prausnitz, J. M.; O'Connell, J. P., The Properties of Gases and Liquids, "
        "5th ed., McGraw-Hill 2001, appendix A, heat capacity of the liquid at 298 K",
        table="Heat Capacity/PolingDatabank.tsv",
    ),
    "mcgarry1983": Source(
        "McGarry, J., Correlation and prediction of the vapor pressures of pure liquids over "
        "large pressure ranges, Ind. Eng. Chem. Process Des. Dev. 22 (1983) 313-322",
        "10.1021/i200021a023",
        "Vapor Pressure/Wagner Original McGarry.tsv",
    ),
    "landolt_v20": Source(
        "Dykyj, J.; Svoboda, J.; Wilhoit, R. C.; Frenkel, M.; Hall, K. R., Vapor Pressure and "
        "Antoine Constants, Landolt-Boernstein New Series IV/20A-C, Springer 1999 to 2001",
        table="Vapor Pressure/Landolt_antoine_V20.tsv",
    ),
    "zabransky1996": Source(
        "Zabransky, M.; Ruzicka, V.; Majer, V.; Domalski, E. S., Heat Capacity of Liquids: "
        "Critical Review and Recommended Values, J. Phys. Chem. Ref. Data Monograph 6 (1996)",
        table="Heat Capacity/Zabransky.tsv",
    ),
    "gharagheizi_hvap": Source(
        "Acree, W.; Chickos, J. S., Phase transition enthalpy measurements of organic compounds, "
        "J. Phys. Chem. Ref. Data 39 (2010) 043101, vaporisation at 298 K as collected in the "
        "appendix of Gharagheizi, F. and others, Fluid Phase Equilib. 354 (2013) 250-258",
        "10.1016/j.fluid.2013.06.034",
        "Phase Change/Ghazerati Appendix Vaporization Enthalpy.tsv",
    ),
    "open_notebook_melting": Source(
        "Bradley, J.-C.; Williams, A.; Lang, A., Jean-Claude Bradley Open Melting Point Dataset, "
        "figshare 2014 (CC0)",
        "10.6084/m9.figshare.1031637",
        "Phase Change/OpenNotebook Melting Points.tsv",
    ),
    "wikidata": Source(
        "Wikidata, statements on chemical compounds (CC0)", table="Misc/wikidata_properties.tsv"
    ),
    "nfpa497": Source(
        "NFPA 497, Recommended Practice for the Classification of Flammable Liquids, Gases, or "
        "Vapors, National Fire Protection Association 2008",
        table="Safety/NFPA 497 2008.tsv",
    ),
    "iec60079": Source(
        "IEC 60079-20-1:2010, Material characteristics for gas and vapour classification "
        "(as IS/IEC 60079-20-1:2010)",
        table="Safety/IS IEC 60079-20-1 2010.tsv",
    ),
    "iarc": Source(
        "International Agency for Research on Cancer, Agents Classified by the IARC Monographs",
        table="Safety/IARC Carcinogen Database.tsv",
    ),
    "ntp": Source(
        "National Toxicology Program, Report on Carcinogens, US Department of Health",
        table="Safety/National Toxicology Program Carcinogens.tsv",
    ),
    "pubchem": Source(
        "PubChem, National Library of Medicine (public domain): names and structures by CAS number"
    ),
}

IDENTITY_TABLES = (
    "Identifiers/chemical identifiers pubchem small.tsv",
    "Identifiers/chemical identifiers pubchem large.tsv",
    "Identifiers/Inorganic db.tsv",
    "Identifiers/chemical identifiers example user db.tsv",
)

METHODS: dict[str, Source] = {
    "iapws95": Source(
        "Wagner, W.; Pruss, A., The IAPWS formulation 1995 for ordinary water substance, "
        "J. Phys. Chem. Ref. Data 31 (2002) 387-535",
        "10.1063/1.1461829",
    ),
    "trc_thermoml": Source(
        "Riccardi, D. and others, Towards improved FAIRness of the ThermoML archive, J. Comput. "
        "Chem. 43 (2022) 879-887; measured points of the papers named beside it",
        "10.1002/jcc.26842",
    ),
    "watson1943": Source(
        "Watson, K. M., Thermodynamics of the liquid state, Ind. Eng. Chem. 35 (1943) 398-406",
        "10.1021/ie50400a004",
    ),
    "clapeyron": Source(
        "Clausius-Clapeyron slope of the fitted vapour pressure, vapour volume corrected by the "
        "compressibility estimate of Haggenmacher, J. E., J. Am. Chem. Soc. 68 (1946) 1633-1634",
        "10.1021/ja01212a525",
    ),
    "rackett1970": Source(
        "Rackett, H. G., Equation of state for saturated liquids, J. Chem. Eng. Data 15 (1970) "
        "514-517",
        "10.1021/je60047a012",
    ),
    "joback1987": Source(
        "Joback, K. G.; Reid, R. C., Estimation of pure-component properties from group "
        "contributions, Chem. Eng. Commun. 57 (1987) 233-243",
        "10.1080/00986448708960487",
    ),
    "dadgostar2012": Source(
        "Dadgostar, N.; Shaw, J. M., A predictive correlation for the constant-pressure specific "
        "heat capacity of pure and ill-defined liquid hydrocarbons, Fluid Phase Equilib. 313 "
        "(2012) 211-226",
        "10.1016/j.fluid.2011.09.015",
    ),
    "prudent2011": Source(
        "National Research Council, Prudent Practices in the Laboratory, National Academies Press "
        "2011, chapter 4.D: classes of chemicals that can form peroxides (members from memory, "
        "compared with the lists that universities reprint)",
        "10.17226/12654",
    ),
    "princeton_ehs": Source(
        "Princeton University, Environmental Health and Safety, Peroxide Forming Chemicals, "
        "https://ehs.princeton.edu/laboratory-research/chemical-safety/reactive-materials/"
        "peroxide-forming-chemicals, table 2 (partly seen, the rest from memory)"
    ),
    "kelly1996": Source(
        "Kelly, R. J., Review of safety guidelines for peroxidizable organic chemicals, Chem. "
        "Health Saf. 3 (1996) 28-36: which structures form peroxides (from memory)"
    ),
    "coolidge1928": Source(
        "Coolidge, A. S., The vapor density and some other properties of formic acid, J. Am. Chem. "
        "Soc. 50 (1928) 2166-2178: log10(K mmHg) = -10.743 + 3083/T (from memory)",
        "10.1021/ja01395a014",
    ),
    "taylor1951": Source(
        "Taylor, M. D., The vapor phase dissociation of some carboxylic acids. I. Acetic acid, J. "
        "Am. Chem. Soc. 73 (1951) 315-317: log10(K mmHg) = -10.4184 + 3164/T (from memory)",
        "10.1021/ja01145a104",
    ),
    "taylor1952": Source(
        "Taylor, M. D.; Bruton, J., The vapor phase dissociation of some carboxylic acids. II. "
        "Formic and propionic acids, J. Am. Chem. Soc. 74 (1952) 4151-4152: propionic acid, "
        "log10(K mmHg) = -10.834 + 3316/T (from memory)",
        "10.1021/ja01136a056",
    ),
    "flow1999": Source(
        "Measurement of vapor-phase compressibility factors of monocarboxylic acids using a "
        "flow-type apparatus and their association constants, J. Chem. Eng. Data 44 (1999) 48-51: "
        "ln K = (-136 + 58500/T)/R for acetic to valeric acid (abstract seen; the pressure unit, "
        "0.1 MPa, inferred from its formic acid, which then meets Coolidge 1928 within 3 % at "
        "373 K)"
    ),
    "rdkit_smarts": Source(
        "Substructure search in the molecular graph (patterns in tools/substances/structure.py)"
    ),
    "atomic_weights": Source(
        "Prohaska, T. and others, Standard atomic weights of the elements 2021, Pure Appl. Chem. "
        "94 (2022) 573-600",
        "10.1515/pac-2019-0603",
    ),
    "yamada1973": Source(
        "Yamada, T.; Gunn, R. D., Saturated liquid molar volumes: the Rackett equation, J. Chem. "
        "Eng. Data 18 (1973) 234-236",
        "10.1021/je60057a006",
    ),
    "typical_pc": Source(
        "typical of organic liquids, common practice, no source; used for nothing but the small "
        "correction of a vapour volume and the shape of the thermal expansion"
    ),
    "kistiakowsky1923": Source(
        "Kistiakowsky, W., Z. phys. Chem. 107 (1923) 65: entropy of vaporisation at the boiling "
        "point, 36.61 J/mol/K + R ln(Tb/K) (from memory)"
    ),
    "riddick1986": Source(
        "Riddick, J. A.; Bunger, W. B.; Sakano, T. K., Organic Solvents, 4th ed., Wiley 1986 "
        "(from memory)"
    ),
    "supplier": Source(
        "typical density on suppliers' labels (from memory, no page); for five liquids in place of "
        "a printed one that refractive index and atomic volumes refute"
    ),
    "harvey1998": Source(
        "Harvey, A. H.; Gallagher, J. S.; Levelt Sengers, J. M. H., Revised formulation for the "
        "refractive index of water and steam, J. Phys. Chem. Ref. Data 27 (1998) 761-774: 1.33299 "
        "at 20 degC and the sodium D line (from memory)",
        "10.1063/1.556029",
    ),
    "index_slope": Source(
        "the refractive index of an organic liquid falls by about 0.00045 per kelvin: common "
        "practice, no source"
    ),
    "chueh1973": Source(
        "Chueh, C. F.; Swanson, A. C., Estimating liquid heat capacity, Chem. Eng. Prog. 69 (7) "
        "(1973) 83-85; Can. J. Chem. Eng. 51 (1973) 596-600 (group values from memory, compared "
        "with 309 measured heat capacities: median deviation 0.1 %, 68 % within 5.5 %)",
        "10.1002/cjce.5450510511",
    ),
    "catoire2004": Source(
        "Catoire, L.; Naudet, V., A unique equation to estimate flash points of selected pure "
        "liquids, J. Phys. Chem. Ref. Data 33 (2004) 1083-1111 (equation from memory, compared "
        "with 238 measured flash points: median miss 4 K, 80 % within 9 K)",
        "10.1063/1.1835321",
    ),
    "jones1938": Source(
        "Jones, G. W., Inflammation limits and their practical application in hazardous "
        "industrial operations, Chem. Rev. 22 (1938) 1-26: 0.55 of the mixture that just burns up "
        "(from memory, compared with 196 measured limits: 80 % within 28 %)",
        "10.1021/cr60071a001",
    ),
    "guldberg1890": Source(
        "Guldberg, C. M., Z. phys. Chem. 5 (1890) 374: the boiling point is two thirds of the "
        "critical temperature (from memory)"
    ),
    "pooled": Source(
        "no second source: the spread is the median spread between sources of all substances "
        "that have two"
    ),
}

EXCLUDED: dict[str, str] = {
    "Table 2-8 ": "handbook reprint of a commercial data bank",
    "Table 2-150 ": "handbook reprint of a commercial data bank",
    "Parameters 105": "handbook reprint of a commercial data bank",
    "Table_2-153": "handbook reprint of a commercial data bank",
    "PinaMartines": "taken from a commercial data bank",
    "Revision 4": "taken from a commercial data bank",
    "Serat": "taken from a commercial data bank",
    "Alibakhshi": "fitted to a commercial data bank",
    "Bell 2018": "fitted to the output of a data-bank product",
    "VDI ": "a handbook, but its fits rest on a commercial data bank: left out to be safe",
    "Yaws": "origin, and share of estimates, not stated",
    "common_chemistry": "licence forbids commercial use",
    "Extended Collection": "holds only above the range of the plain equation",
}
