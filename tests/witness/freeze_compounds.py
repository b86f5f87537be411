"""RDKit's lists of resonance contributors for compounds that textbooks discuss, beside which ours are argued one by one.

Source: PyPI `rdkit` (BSD-3-Clause), `Chem.ResonanceMolSupplier`, called as in `freeze_contributors`; the choice of compounds
is ours. `tests/suite/compounds.rs` has the table of differences, each under a letter with its reason.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from rdkit import RDLogger

from freeze_contributors import FURTHER, MOST, USUAL, labelled, listed
from frozen import WITNESS, settle

# Cations, anions, radicals, zwitterions, rings with heteroatoms, shells beyond eight, charged and neutral.
COMPOUNDS = """
acetate	CC(=O)[O-]
carbonate	O=C([O-])[O-]
acetone enolate	[CH2-]C(C)=O
pentanedionate	CC(=O)[CH-]C(C)=O
acetamide	CC(N)=O
urea	NC(N)=O
guanidinium	NC(N)=[NH2+]
amidinium	CC(N)=[NH2+]
acylium	CC#[O+]
oxocarbenium	C[CH+]OC
iminium	C=[N+](C)C
protonated acetone	CC(C)=[OH+]
arenium OMe	COC1=CC=C[CH+]C1
arenium OMe meta	COC1=CC[CH+]C=C1
arenium Br meta	BrC1=CC[CH+]C=C1
arenium	C1C=CC=C[CH+]1
nitrosonium	N#[O+]
carbon monoxide	[C-]#[O+]
imidazolylidene	CN1C=CN(C)[C]1
imidazolylidene as ylide	C[N+]1=[C-]N(C)C=C1
chlorocarbenium	C[CH+]Cl
tropylium	[CH+]1C=CC=CC=C1
cyclopentadienide	[CH-]1C=CC=C1
cyclopropenyl	[CH+]1C=C1
allyl cation	C=C[CH2+]
allyl radical	C=C[CH2]
pentadienyl anion	C=CC=C[CH2-]
benzyl cation	[CH2+]c1ccccc1
benzyl radical	[CH2]c1ccccc1
phenoxide	[O-]c1ccccc1
nitrophenoxide	[O-]c1ccc(cc1)[N+](=O)[O-]
nitrobenzene	O=[N+]([O-])c1ccccc1
nitroaniline	Nc1ccc(cc1)[N+](=O)[O-]
aniline	Nc1ccccc1
anisole	COc1ccccc1
benzaldehyde	O=Cc1ccccc1
benzonitrile	N#Cc1ccccc1
pyrrole	c1cc[nH]c1
furan	c1ccoc1
thiophene	c1ccsc1
thiazole	c1cscn1
selenophene	c1cc[se]c1
phosphole	c1cc[pH]c1
dithiin	C1=CSC=CS1
pyridine	c1ccncc1
pyridine N oxide	[O-][n+]1ccccc1
imidazole	c1cnc[nH]1
imidazolium	c1c[nH+]c[nH]1
pyrylium	c1cc[o+]cc1
pyrimidine	c1cncnc1
dmso	CS(C)=O
dmso as octets	C[S+](C)[O-]
sulfone	CS(C)(=O)=O
sulfate	O=S(=O)([O-])[O-]
sulfonate	CS(=O)(=O)[O-]
phosphine oxide	C[P+](C)(C)[O-]
phosphonium ylide	[CH2-][P+](C)(C)C
stabilised ylide	CC(=O)[CH-][P+](C)(C)C
sulfonium ylide	C[S+](C)[CH2-]
phosphate	O=P([O-])([O-])[O-]
perchlorate	[O-][Cl+3]([O-])([O-])[O-]
chlorate	[O-]Cl(=O)=O
hypochlorite	[O-]Cl
sulfur dioxide	O=S=O
sulfur trioxide	O=S(=O)=O
thionyl	ClS(Cl)=O
diazomethane	C=[N+]=[N-]
diazoketone	CC(=O)C=[N+]=[N-]
diazonium	N#[N+]c1ccccc1
methyl azide	CN=[N+]=[N-]
azide	[N-]=[N+]=[N-]
ozone	O=[O+][O-]
nitromethane	C[N+](=O)[O-]
nitrate	O=[N+]([O-])[O-]
nitrite	O=N[O-]
nitronate	C=[N+]([O-])[O-]
nitrone	C=[N+](C)[O-]
nitrile oxide	CC#[N+][O-]
trimethylamine oxide	C[N+](C)(C)[O-]
carbonyl ylide	C=[O+][CH2-]
azomethine ylide	C=[N+](C)[CH2-]
squarate	[O-]C1=C([O-])C(=O)C1=O
croconate	[O-]C1=C([O-])C(=O)C(=O)C1=O
betaine	C[N+](C)(C)CC(=O)[O-]
sydnone	O=C1C=[N+](C)[N-]O1
sydnone as enolate	[O-]C1=C[N+](C)=NO1
munchnone	[O-]C1=C[N+](C)=CO1
nitrous oxide	[N-]=[N+]=O
cyanate	[O-]C#N
thiocyanate	[S-]C#N
isocyanate	CN=C=O
carbon dioxide	O=C=O
ketene	C=C=O
acrolein	C=CC=O
enamine	C=CN
butadiene	C=CC=C
acetaldehyde	CC=O
ester	COC(C)=O
thioamide	CC(N)=S
dithiocarboxylate	CC(=S)[S-]
thioacetate	CC(=O)[S-]
nitric oxide	[N]=O
nitrogen dioxide	[O]N=O
nitroxide	CN(C)[O]
superoxide	[O-][O]
phenoxyl	[O]c1ccccc1
trityl	[C+](c1ccccc1)(c1ccccc1)c1ccccc1
naphthalene	c1ccc2ccccc2c1
azulene	C1=CC=C2C=CC=C2C=C1
cyclobutadiene	C1=CC=C1
cyclooctatetraene	C1=CC=CC=CC=C1
fulvene	C=C1C=CC=C1
tropone	O=C1C=CC=CC=C1
quinone	O=C1C=CC(=O)C=C1
pyridone	O=C1C=CC=CN1
uracil	O=C1C=CNC(=O)N1
malononitrile anion	N#C[CH-]C#N
tetracyanoethene	N#CC(C#N)=C(C#N)C#N
cyanide	[C-]#N
isocyanide	C[N+]#[C-]
boron trifluoride	FB(F)F
borate	B(O)(O)O
vinyl cation	C=[CH+]
vinyl chloride	C=CCl
vinylogous amide	CN(C)C=CC=O
benzyne	C1=CC=CC#C1
diazocyclopentadiene	[N-]=[N+]=C1C=CC=C1
triazolium	c1n[nH+]c[nH]1
tetrazole	c1nnn[nH]1
mesoionic thiolate	[S-]c1n[n+](C)cs1
vinylogous acid	OC=CC=O
amide anion	CC(=O)[NH-]
imide anion	CC(=O)[N-]C(C)=O
hydroxamate	CC(=O)N[O-]
carbamate	COC(N)=O
anhydride	CC(=O)OC(C)=O
acyl chloride	CC(=O)Cl
thioester	CC(=O)SC
enol ether	C=COC
enolate ester	COC(=O)[CH2-]
malonate	COC(=O)[CH-]C(=O)OC
cyanoacetate	N#C[CH-]C(=O)OC
nitroenolate	O=CC=[N+]([O-])[O-]
oxalate	[O-]C(=O)C(=O)[O-]
protonated amide	CC(N)=[OH+]
protonated acid	CC(O)=[OH+]
protonated ester	CC(OC)=[OH+]
dimethylaminobenzyl	CN(C)c1ccc([CH2+])cc1
cyanine	CN(C)C=CC=[N+](C)C
propargyl	C#C[CH2+]
propargyl radical	C#C[CH2]
allenyl anion	C=C=[CH-]
heptatrienyl	C=CC=CC=C[CH2+]
cyclohexadienone	O=C1C=CCC=C1
indole	c1ccc2[nH]ccc2c1
quinoline	c1ccc2ncccc2c1
benzofuran	c1ccc2occc2c1
oxazole	c1cocn1
isoxazole	c1conc1
pyrazole	c1cn[nH]c1
pyridinium	c1cc[nH+]cc1
aminopyridine	Nc1ccncc1
thiophenoxide	[S-]c1ccccc1
anilide	[NH-]c1ccccc1
benzoate	[O-]C(=O)c1ccccc1
biphenyl	c1ccc(cc1)c1ccccc1
anthracene	c1ccc2cc3ccccc3cc2c1
nitroso	CN=O
nitrosamine	CN(C)N=O
nitrosobenzene	O=Nc1ccccc1
peroxynitrite	O=NO[O-]
dinitrogen tetroxide	O=[N+]([O-])[N+](=O)[O-]
nitramide	CN(C)[N+](=O)[O-]
fulminate	[C-]#[N+][O-]
carbodiimide	CN=C=NC
isothiocyanate	CN=C=S
carbon disulfide	S=C=S
sulfinate	CS(=O)[O-]
sulfite	[O-]S(=O)[O-]
thiosulfate	[O-]S(=O)(=O)[S-]
sulfenate	CS[O-]
sulfonamide	CS(=O)(=O)N
sulfonyl carbanion	CS(=O)(=O)[CH2-]
sulfoxide carbanion	CS(=O)[CH2-]
sulfoxonium ylide	C[S+](C)([CH2-])=O
phosphonate carbanion	COP(=O)(OC)[CH-]C(=O)OC
metaphosphate	[O-]P(=O)=O
bromate	[O-]Br(=O)=O
arenium Cl	ClC1=CC=C[CH+]C1
arenium NMe2	CN(C)C1=CC=C[CH+]C1
difluorocarbenium	F[CH+]F
dialkoxycarbenium	CO[CH+]OC
chloroacylium	ClC#[O+]
nitrilium	CC#[N+]C
vinylborane	C=CB(O)O
aminoborane	CN(C)B(C)C
ketyl	C[C](C)[O-]
semiquinone	[O-]c1ccc([O])cc1
dialkyl nitroxide	CC(C)(C)N([O])C(C)(C)C
formylmethyl radical	[CH2]C=O
acyl radical	C[C]=O
cyclobutenedione	O=C1C=CC1=O
cyclopropenone	O=C1C=C1
rhodizonate	[O-]C1=C([O-])C(=O)C(=O)C(=O)C1=O
barbiturate	O=C1[CH-]C(=O)NC(=O)N1
tetronate	[O-]C1=C(O)C(=O)OC1
glycine zwitterion	[NH3+]CC(=O)[O-]
aminoimidazolone	CN1CC(=O)N=C1N
nitrilimine	CC#[N+][N-]C
thiocarbonyl ylide	C=[S+][CH2-]
carbonyl oxide	C=[O+][O-]
azoxy	CN=[N+](C)[O-]
furoxan	CC1=NO[N+]([O-])=C1C
pyridinium ylide	[CH2-][n+]1ccccc1
formyl nitrone	C[N+](=CC=O)[O-]
dithiolium	C1=C[S+]=CS1
thiazolium ylide	C[n+]1[c-]scc1
cyclopentadienone	O=C1C=CC=C1
arenium Br ortho	BrC1=CC=C[CH+]C1
"""


def lines() -> Iterator[str]:
    """The whole file, a compound a line."""
    for line in COMPOUNDS.strip().splitlines():
        name, smiles = line.split("\t")
        start = labelled(smiles)
        usual = start and listed(start, USUAL)
        if usual is None:
            raise SystemExit(f"{name}: RDKit refuses it, or lists more than {MOST}")
        record: dict[str, object] = {"id": name, "start": start, "contributors": sorted(usual.values())}
        further = listed(start, FURTHER)
        if further is not None:
            record["further"] = sorted(text for key, text in further.items() if key not in usual)
        yield json.dumps(record, separators=(",", ":"))


if __name__ == "__main__":
    RDLogger.DisableLog("rdApp.*")
    raise SystemExit(settle(lines(), WITNESS / "compounds.jsonl", __doc__))
