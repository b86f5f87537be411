#!/usr/bin/env python3
"""What it costs to list the contributors of large compounds: dyes, polycycles, cages, compounds with many nitro or carboxylate groups.

    python3 benches/contributors.py PROGRAM

Prints for each how many contributors are listed, whether the search met its limit, and the seconds. Status 1 where one takes more
than a minute or ends with an error.
"""

from __future__ import annotations

import subprocess
import sys
import time

MOST_SECONDS = 60.0
# A name, a tab, the compound.
COMPOUNDS = """
crystal violet	CN(C)c1ccc(cc1)C(=C1C=CC(=[N+](C)C)C=C1)c1ccc(cc1)N(C)C
rhodamine B	CCN(CC)c1ccc2c(c1)[o+]c1cc(ccc1c2-c1ccccc1C(=O)O)N(CC)CC
indigo	O=C1C(=C2Nc3ccccc3C2=O)Nc2ccccc12
alizarin red	O=C1c2ccccc2C(=O)c2c1cc(S(=O)(=O)[O-])c(O)c2O
methyl orange	CN(C)c1ccc(cc1)N=Nc1ccc(cc1)S(=O)(=O)[O-]
congo red	Nc1c(cc(S(=O)(=O)[O-])c2ccccc12)N=Nc1ccc(cc1)c1ccc(cc1)N=Nc1cc(S(=O)(=O)[O-])c2ccccc2c1N
TNT	Cc1c(cc(cc1[N+](=O)[O-])[N+](=O)[O-])[N+](=O)[O-]
hexanitrobenzene	O=[N+]([O-])c1c([N+](=O)[O-])c([N+](=O)[O-])c([N+](=O)[O-])c([N+](=O)[O-])c1[N+](=O)[O-]
HMX	O=[N+]([O-])N1CN(CN(CN(C1)[N+](=O)[O-])[N+](=O)[O-])[N+](=O)[O-]
CL-20	O=[N+]([O-])N1C2C3N(C4C(N3[N+](=O)[O-])N(C(C1N4[N+](=O)[O-])N2[N+](=O)[O-])[N+](=O)[O-])[N+](=O)[O-]
coronene	c1cc2ccc3ccc4ccc5ccc6ccc1c1c2c3c4c5c61
corannulene	c1cc2ccc3ccc4ccc5ccc1c1c2c3c4c51
porphin	c1cc2cc3ccc([nH]3)cc3ccc(cc4ccc([nH]4)cc1n2)n3
phthalocyanine	c1ccc2c(c1)c1nc2nc2[nH]c(nc3nc(nc4[nH]c(n1)c1ccccc41)c1ccccc31)c1ccccc21
chlorophyll core	C1=CC2=CC3=CC=C([N-]3)C=C3C=CC(=N3)C=C3C=CC([N-]3)=CC1=N2
C60	c12c3c4c5c1c1c6c7c2c2c8c3c3c9c4c4c%10c5c5c1c1c6c6c%11c7c2c2c7c8c3c3c8c9c4c4c9c%10c5c5c1c1c6c6c%11c2c2c7c3c3c8c4c4c9c5c1c1c6c2c3c41
beta carotene	CC1=C(C(C)(C)CCC1)C=CC(C)=CC=CC(C)=CC=CC=C(C)C=CC=C(C)C=CC1=C(C)CCCC1(C)C
cyanine 9	CN(C)C=CC=CC=CC=CC=CC=CC=CC=[N+](C)C
polyacene 10	c1ccc2cc3cc4cc5cc6cc7cc8cc9cc%10ccccc%10cc9cc8cc7cc6cc5cc4cc3cc2c1
decaglycine	NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)NCC(=O)[O-]
ATP	Nc1ncnc2c1ncn2C1OC(COP(=O)([O-])OP(=O)([O-])OP(=O)([O-])[O-])C(O)C1O
polyphosphate	[O-]P(=O)([O-])OP(=O)([O-])OP(=O)([O-])OP(=O)([O-])OP(=O)([O-])OP(=O)([O-])[O-]
twenty carboxylates	[O-]C(=O)CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])CC(C(=O)[O-])C
radical polymer	[CH2]C=CC=CC=CC=CC=CC=CC=CC=CC=CC=CC=CC=CC=C
nitro dye	O=[N+]([O-])c1ccc(N=Nc2ccc(N(CCO)CCO)cc2)c([N+](=O)[O-])c1
quadruple radical	[O]c1cc([O])cc([O])c1
acene of 40 rings	c1ccc2cc3cc4cc5cc6cc7cc8cc9cc%10cc%11cc%12cc%13cc%14cc%15cc%16cc%17cc%18cc%19cc%20cc%21cc%22cc%23cc%24cc%25cc%26cc%27cc%28cc%29cc%30cc%31cc%32cc%33cc%34cc%35cc%36cc%37cc%38cc%39cc%40ccccc%40cc%39cc%38cc%37cc%36cc%35cc%34cc%33cc%32cc%31cc%30cc%29cc%28cc%27cc%26cc%25cc%24cc%23cc%22cc%21cc%20cc%19cc%18cc%17cc%16cc%15cc%14cc%13cc%12cc%11cc%10cc9cc8cc7cc6cc5cc4cc3cc2c1
graphene 5x8	c1cc2cc3cc4cc5ccc6ccc7c8ccc9c%10ccc%11c%12cccc%13cc%14cc%15cc%16ccc%17ccc%18c%19ccc%20c%21ccc%22c(c1)c2c1c3c2c4c3c5c6c7c4c5c8c9c6c7c%10c%11c8c(c%13%12)c%14c9c%15c%10c%16c%17c%18c%11c%12c%19c%20c%13c%14c%21c%22c1c1c2c(c34)c2c5c6c3c4c7c8c9c(c%10%11)c4c%12c%13c3c2c%141
graphene 6x7	c1cc2cc3cc4cc5cc6ccc7ccc8c9ccc%10c%11ccc%12ccc%13cc%14cc%15cc%16cc%17cccc%18c%19ccc%20c%21ccc%22c(c1)c2c1c3c2c4c3c5c4c6c7c8c5c6c9c%10c7c8c%11c%12c%13c9c%14c%10c%15c%11c%16c(c%17%18)c%12c%19c%20c%13c%14c%21c%22c1c1c2c2c3c(c45)c3c6c7c4c(c98)c%10c5c%11c%12c%13c6c(c%141)c2c3c4c56
graphene 4x10	c1cc2cc3cc4ccc5ccc6c7ccc8c9ccc%10c%11ccc%12c%13cccc%14cc%15cc%16ccc%17ccc%18c%19ccc%20c%21ccc%22c%23ccc%24c(c1)c2c1c3c2c4c5c6c3c4c7c8c5c6c9c%10c7c8c%11c%12c9c(c%14%13)c%15c%10c%16c%17c%18c%11c%12c%19c%20c%13c%14c%21c%22c%15c%16c%23c%24c1c(c23)c%16c4c5c%15c%14c6c7c%13c%12c8c9c%10%11
"""


def large() -> list[tuple[str, str]]:
    """Compounds that are made of one piece many times."""
    return [
        ("40 benzene rings in a chain", "c1ccc(cc1)" + "-c1ccc(cc1)" * 38 + "-c1ccccc1"),
        ("1,000 allyl cations", ".".join(["C=C[CH2+]"] * 1_000)),
        ("a polyenyl cation of 10,001 atoms", "C=C" * 5_000 + "[CH2+]"),
    ]


def main(program: str) -> int:
    failed = 0
    for name, smiles in [*(tuple(line.split("\t")) for line in COMPOUNDS.strip().splitlines()), *large()]:
        before = time.monotonic()
        run = subprocess.run([program, "contributors", smiles], capture_output=True, text=True)
        seconds = time.monotonic() - before
        listed = run.stdout.split("\n\n")[0].count("\n") + 1 if run.stdout else 0
        limit = "met its limit" if "limit" in run.stderr else ""
        is_wrong = run.returncode != 0 or seconds > MOST_SECONDS
        failed += is_wrong
        print(f"{name:36} {listed:6} listed {seconds:8.2f} s  {limit}{' FAILED' if is_wrong else ''}", flush=True)
    return int(failed > 0)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1]))
