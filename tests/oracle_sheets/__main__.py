"""Makes whole jobs, small, with all that their estimates must come to, one a line as JSON.

    python3 tests/oracle_sheets SEED JOBS
"""

import json
import random
import sys

from making import Job


def main():
    seed, count = int(sys.argv[1]), int(sys.argv[2])
    for at in range(count):
        job = Job(random.Random(f"{seed}.{at}"))
        print(json.dumps(job.handed_over(), ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
