"""A second opinion: FEBRL4 linked by splink (Linacre et al. 2022), to hold F1 of bench_linkage.py against.

Run by bench_linkage.py with a Python that has splink 5, duckdb and pyarrow; nothing here belongs to the product. The
same values, levels a user of splink would choose from its library, EM without labels, a pair from P = 0.5 on is one.

    python splink_febrl.py FOLDER_OF_FEBRL with|without
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import pyarrow as pa
import splink
import splink.comparison_library as cl
from splink import DuckDBAPI, Linker, SettingsCreator, block_on

_COLUMNS = (
    "given_name",
    "surname",
    "street_number",
    "address_1",
    "address_2",
    "suburb",
    "postcode",
    "state",
    "date_of_birth",
)


def _table(path: Path) -> pa.Table:
    with path.open(encoding="utf-8", newline="") as opened:
        rows = [{k.strip(): (v or "").strip() for k, v in row.items()} for row in csv.DictReader(opened)]
    columns = {name: [row[name] or None for row in rows] for name in _COLUMNS}
    return pa.table({"unique_id": [row["rec_id"] for row in rows], **columns})


def main(folder: str, birth_date: bool) -> None:
    """Link, and print pairs taken, right and true as JSON."""
    api = DuckDBAPI()
    tables = [_table(Path(folder) / f"dataset4{which}.csv") for which in "ab"]
    names = [cl.JaroWinklerAtThresholds(name, [0.92, 0.8]) for name in ("given_name", "surname")]
    texts = [cl.JaroWinklerAtThresholds(name, [0.93, 0.85]) for name in ("address_1", "address_2", "suburb")]
    codes = [cl.LevenshteinAtThresholds(name, [1, 2]) for name in ("postcode", "street_number")]
    dates = [cl.DamerauLevenshteinAtThresholds("date_of_birth", [1, 2])] if birth_date else []
    rules = [
        block_on("given_name", "surname"),
        block_on("postcode", "given_name"),
        block_on("postcode", "surname"),
        block_on("address_1", "street_number"),
        block_on("address_1", "suburb"),
        block_on("substr(given_name, 1, 3)", "substr(surname, 1, 3)"),
        block_on("surname", "street_number"),
        block_on("given_name", "suburb"),
        block_on("given_name", "street_number"),
        block_on("postcode", "street_number"),
        *([block_on("date_of_birth")] if birth_date else []),
    ]
    settings = SettingsCreator(
        link_type="link_only",
        comparisons=[*names, *texts, *codes, cl.ExactMatch("state"), *dates],
        blocking_rules_to_generate_predictions=rules,
        retain_intermediate_calculation_columns=False,
    )
    linker = Linker([api.register(t, table_name=n) for t, n in zip(tables, "ab", strict=True)], settings, log_level=40)
    linker.training.estimate_probability_two_random_records_match([rules[0], rules[3]], recall=0.7)
    linker.training.estimate_u_using_random_sampling(max_pairs=2e6, seed=1)
    for rule in (block_on("surname"), block_on("given_name"), block_on("postcode")):
        linker.training.estimate_parameters_using_expectation_maximisation(rule)
    found = linker.inference.predict(threshold_match_probability=0.5).as_record_list()
    pairs = {(r["unique_id_l"].split("-")[1], r["unique_id_r"].split("-")[1]) for r in found}
    right = sum(a == b for a, b in pairs)
    print(json.dumps({"version": splink.__version__, "taken": len(pairs), "right": right, "true": 5000}))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2] == "with")
