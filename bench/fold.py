"""How long the fold of a job into evidence takes, and what it hands to the engine."""

import time
from pathlib import Path
from statistics import median

from halfsplit.book import shipped_book
from halfsplit.infer import weigh
from halfsplit.job.fold import fold_job
from halfsplit.jobfile import load_job

ROUNDS = 15
EXAMPLES = Path(__file__).parents[1] / "examples"


def main() -> None:
    book = shipped_book()
    for path in sorted(EXAMPLES.glob("*.yaml")):
        job, mistakes = load_job(path, book)
        if job is None:
            raise SystemExit("\n".join(map(str, mistakes)))
        folded = fold_job(job, book)
        evidence = folded.evidence
        fold_ms = median(milliseconds(lambda job=job: fold_job(job, book)) for _ in range(ROUNDS))
        weigh_ms = median(milliseconds(lambda evidence=evidence: weigh(evidence)) for _ in range(5))
        print(
            f"{path.stem}: {len(job.log)} entries, {len(evidence.roots)} roots, {len(evidence.readings)} readings; "
            f"fold {fold_ms:.0f} ms, weigh {weigh_ms:.0f} ms"
        )


def milliseconds(call) -> float:
    begin = time.perf_counter()
    call()
    return 1000.0 * (time.perf_counter() - begin)


if __name__ == "__main__":
    main()
