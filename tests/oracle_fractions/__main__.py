"""Makes generated sheets with the values they must have, one batch a line as JSON.

    python3 tests/oracle_fractions SEED EXPRESSIONS [EXPRESSIONS_A_SHEET]
"""

import json
import random
import sys

from making import Batch


def main():
    seed, count = int(sys.argv[1]), int(sys.argv[2])
    a_sheet = int(sys.argv[3]) if len(sys.argv) > 3 else 250
    done = 0
    while done < count:
        batch = Batch(random.Random(f"{seed}.{done}"), min(a_sheet, count - done))
        print(json.dumps({"sheet": batch.sheet, "survey": batch.csv, "expect": batch.handed_over()}, ensure_ascii=False), flush=True)
        done += batch.made


if __name__ == "__main__":
    main()
