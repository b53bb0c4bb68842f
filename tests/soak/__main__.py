"""The mutation campaign: `python -m tests.soak`, or with modules of apps/domain after it.

Prints what was killed module by module, each survivor with its line, its change and why no test
can or need notice it. Leaves with an error when too few are killed, a survivor is not explained,
or an explanation has outlived its survivor.
"""

import sys
from collections.abc import Iterable, Sequence

from tests.soak import mutation
from tests.soak.mutation import Fate, Subject


def say(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def tell(subject: Subject, fates: Sequence[Fate], reasons: dict[str, str]) -> list[str]:
    """Print a module's count and survivors; return what is not as it should be."""
    alive = [fate.mutant for fate in fates if not fate.killed]
    say(f"{subject.path}: {len(fates) - len(alive)} of {len(fates)} killed")
    for mutant in alive:
        say(f"  line {mutant.line}, {mutant.key}")
        say(f"    {reasons.get(mutant.key, 'NOT EXPLAINED')}")
    keys = {mutant.key for mutant in alive}
    return [
        *(f"{subject.path}: not explained: {key}" for key in sorted(keys - reasons.keys())),
        *(f"{subject.path}: did not survive: {key}" for key in sorted(reasons.keys() - keys)),
    ]


def too_few(fates: Iterable[Fate]) -> list[str]:
    """Print the share killed of each package; return those under what is asked."""
    killed: dict[str, list[bool]] = {}
    for fate in fates:
        killed.setdefault(fate.subject.package, []).append(fate.killed)
    wrong = []
    for package, fell in killed.items():
        share = sum(fell) / len(fell)
        say(f"{package}: {sum(fell)} of {len(fell)} killed, {share:.1%}")
        if share < mutation.KILLED_SHARE:
            wrong.append(f"{package}: under {mutation.KILLED_SHARE:.0%} killed")
    return wrong


def main(packages: Sequence[str]) -> int:
    known = mutation.explained()
    wrong, all_fates = [], []
    for subject in mutation.SUBJECTS:
        if packages and subject.package not in packages:
            continue
        fates = mutation.judge(subject, mutation.mutants(subject))
        wrong += tell(subject, fates, known.get(subject.module, {}))
        all_fates += fates
    wrong += too_few(all_fates)
    for line in wrong:
        sys.stderr.write(f"{line}\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
