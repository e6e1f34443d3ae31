"""The machines of the invented customers, by key."""

from __future__ import annotations

from world import machine

#: key, maker, which of its models
_PLATES = (
    ("hetty-brise", "Vesterlyng", 0),
    ("juergen-aria", "Kestrelle", 0),
    ("clemence-linea", "Orvando", 0),
    ("fenna-orkan", "Vesterlyng", 2),
    ("rosario-linea", "Orvando", 1),
    ("gunhild-duo", "Kestrelle", 1),
    ("ornella-brise", "Vesterlyng", 1),
    ("dorothea-heron", "Tindavar", 0),
    ("dorothea-linea", "Orvando", 0),
    ("imogen-orkan", "Vesterlyng", 2),
    ("barnaby-aria", "Kestrelle", 0),
    ("annegret-heron", "Tindavar", 1),
    ("maud-aria", "Kestrelle", 0),
    ("joost-duo", "Kestrelle", 1),
    ("therese-brise", "Vesterlyng", 0),
    ("therese-aria", "Kestrelle", 0),
    ("kaethe-brise", "Vesterlyng", 1),
    ("bastien-duo", "Kestrelle", 1),
    ("ottokar-linea", "Orvando", 0),
    ("tamsin-orkan", "Vesterlyng", 2),
    ("colm-linea", "Orvando", 1),
    ("noemie-linea", "Orvando", 0),
    ("wietske-brise", "Vesterlyng", 0),
    ("inigo-duo", "Kestrelle", 1),
    ("ake-heron", "Tindavar", 0),
    ("lurleen-orkan", "Vesterlyng", 2),
    ("falk-linea", "Orvando", 1),
    ("elodie-aria", "Kestrelle", 0),
    ("priya-brise", "Vesterlyng", 1),
    ("nieves-linea", "Orvando", 0),
    ("gwen-aria", "Kestrelle", 0),
    ("juergen-duo", "Kestrelle", 1),
    ("amparo-brise", "Vesterlyng", 0),
    ("maarten-linea", "Orvando", 1),
    ("rosalind-orkan", "Vesterlyng", 2),
    ("joan-1-brise", "Vesterlyng", 0),
    ("joan-2-aria", "Kestrelle", 0),
    ("hannelore-duo", "Kestrelle", 1),
    ("gisela-heron", "Tindavar", 0),
    ("sanne-linea", "Orvando", 0),
    ("xavier-brise", "Vesterlyng", 1),
    ("brunhilde-duo", "Kestrelle", 1),
    ("hugues-heron", "Tindavar", 1),
    ("odell-aria", "Kestrelle", 0),
    ("ingrid-orkan", "Vesterlyng", 2),
    ("gaspare-aria", "Kestrelle", 0),
    ("elspeth-brise", "Vesterlyng", 0),
    ("leopold-aria", "Kestrelle", 0),
    ("solange-linea", "Orvando", 1),
    ("bram-orkan", "Vesterlyng", 2),
    ("consuelo-duo", "Kestrelle", 1),
    ("tilda-linea", "Orvando", 0),
    ("fiammetta-heron", "Tindavar", 0),
    ("winifred-duo", "Kestrelle", 1),
    ("quentin-brise", "Vesterlyng", 1),
    ("ursel-heron", "Tindavar", 1),
    ("delphine-aria", "Kestrelle", 0),
    ("piet-linea", "Orvando", 1),
    ("mercedes-brise", "Vesterlyng", 0),
    ("theobald-orkan", "Vesterlyng", 2),
)

MACHINES = {key: machine(key, maker, model) for key, maker, model in _PLATES}

#: Fenna's machine after its main board was swapped: another machine ID, the same type plate.
FENNA_NEW_BOARD = machine("fenna-orkan", "Vesterlyng", 2, board=2)
