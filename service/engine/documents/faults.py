"""The vocabulary of faults: the trade's names for what an inspector sees when a ball is unwound."""

from collections.abc import Mapping

from msgspec import Struct


class Fault(Struct, frozen=True):
    """A name of the vocabulary of faults with its meaning."""

    name: str
    meaning: str


# Common practice, no source: the words of mills and inspectors, each said in our own.
FAULTS = (
    Fault("slub", "A short lump of fibre that was not drawn out."),
    Fault("thin_place", "A length that is clearly thinner than the rest."),
    Fault("thick_place", "A length that is clearly thicker than the rest, longer than a slub."),
    Fault("splice", "Two ends laid into each other or glued, without a knot."),
    Fault("knot", "Two ends tied together."),
    Fault("snarl", "A kink where the twist has doubled the twine back on itself."),
    Fault("broken_strand", "A strand that ends within the length."),
    Fault("high_strand", "A strand that stands out above the others of the rope."),
    Fault("loose_strand", "A strand that lies slack beside the others."),
    Fault("missing_yarn", "A strand or twine with fewer yarns than it should have."),
    Fault("missing_marker_yarn", "The marker yarn is not there, on the whole length or on a part of it."),
    Fault("wrong_marker_yarn", "The marker yarn is of another colour, or of another material, than it should be."),
    Fault("dry_length", "A length that took no oil or other treatment, or clearly too little."),
    Fault("stain", "A spot or length discoloured by dirt, oil or water."),
    Fault("mildew", "Growth or smell of mould."),
    Fault("wrong_lay", "Laid or twisted in the other direction, or clearly too hard or too soft."),
    Fault("ribboned_wind", "Turns wound one upon another in bands, so that they slip or lock when unwound."),
    Fault("crossed_wind", "A turn that crosses those beneath it, so that it catches when unwound."),
    Fault("collapsed_core", "The inside of the ball or coil has fallen in, so that it no longer runs off."),
    Fault("wrong_label", "A label that is missing, that can't be read, or that is of another grade."),
)
FAULTS_BY_NAME: Mapping[str, Fault] = {fault.name: fault for fault in FAULTS}
