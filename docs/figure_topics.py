"""The plain words of docs/figures.md, written by docs/make_figures.py: what each figure is for, and its limits."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Topic:
    """One figure, or several that belong together."""

    heading: str
    drawing: str  # in docs/figure_drawings.py
    entries: tuple[str, ...]  # keys of lightsim.measure.figure.CATALOGUE
    words: str  # what it is, for readers who know no optics
    limits: str


INTRODUCTION = """\
<!-- Made by docs/make_figures.py: change docs/figure_topics.py or lightsim/measure/figure.py, and run it again. -->

# Figures

What each number of a report means: in plain sentences and a drawing, then its exact definition, unit and source, its
values for four ready designs, and its limits. You need no optics to read this page.

@contents

## How to read this page

![@stage](drawings/figure-stage.svg)

The **subject** is a point: the middle of the sharp plane. All figures are told for that point unless they say
otherwise. Seven words come again and again.

| word | what it means |
| --- | --- |
@words

**lx s per lm s** is the light that arrives for each unit of light (a lumen second) that the flash sends out. The
strength of the flash is not in it, so designs can be compared.

**Names** such as `size.cone_angle` are those of `--json` and `--csv`. `lightsim report` shows the most useful
figures, `report --all` every one, `report --explain` their definitions.

**How sure is a value?** A report tells two doubts beside it.

- **±** is the doubt of the *calculation*, which throws light by chance. In 95 of 100 reports the value that endless
  computing would give lies within it (the 95 % interval of the sampling, see [how the engine
  works](engine.md#error-bars)). More computing makes it smaller.
- **By materials** is the doubt about the *sheet*: "1.5 to 2.4" is where the value moves if your paper passes or sends
  back a little more or less than the file says; see [materials](materials.md#how-sure-a-number-is). No computing helps.
  [Measuring your sheet](measure.md#three-readings-of-a-sheet) does.

Which is larger? For all that is about *how much* light, such as light lost and power left, by far the second: the white
box loses 1.95 ± 0.01 stops, by its materials 1.5 to 2.4. Sheets of one name differ, and few have been measured in
public. Size, shadow and highlight hang on *where* the sheet stands, and little on what it is made of. There both are
small, either may be the larger one, and the report leaves the second out where it is little beside the first. Neither
knows of a ruler that was read wrongly.

**The tables below** show values of ready designs at life size (1x), rounded to what the sampling allows, without the
ranges. The designs are invented, and no photograph was taken: the values are what the model says. A dash means that a
design has no such figure, or too little light to tell.

**Formulas** keep few signs. L is luminance; "int ... dO" is a sum over all directions, each weighted by the solid
angle that it stands for; w is the light of one sample; log2 counts doublings, and so stops. [Theory](theory.md)
proves them."""

VOCABULARY = (
    (
        "illuminance",
        "how much light lands on a surface, for each piece of its area: what an incident-light meter reads",
    ),
    (
        "luminous exposure",
        "the same, added up over a flash; its unit is the lux second, lx s",
    ),
    (
        "luminance",
        "how bright a surface looks. Paper looks equally bright from near and from far; it only looks smaller "
        "(any optics textbook)",
    ),
    (
        "stop",
        "a factor of two in light. 1 stop is twice as much, 3 stops are 8 times, a tenth of a stop is 7 %",
    ),
    (
        "solid angle",
        "how much of the view all around something fills, in steradian, sr. All around is 12.57 sr, half of "
        "it 6.28 sr; a cone of 60 degrees from side to side has 0.84 sr",
    ),
    (
        "source",
        "what the light left last on its way to the subject, if that is a flash head or the diffuser: the "
        "glowing sheet, not the flash behind it",
    ),
    (
        "fill",
        "light that left leaf, ground or other surroundings last",
    ),
)

TOPICS = (
    Topic(
        "Apparent size",
        "size",
        ("size.cone_angle", "size.solid_angle"),
        """
How large the light looks from the subject, whatever its size in mm. This angle decides how soft a shadow is and how
wide a highlight. A small sheet near by and a large one farther off are the same if they fill the same angle.

**"As large as a cone of 64 degrees"** means: think of a paper cone with its tip on the subject and its mouth open
toward the light. 64 degrees is the angle at the tip, from one side to the other. A round, evenly bright sheet that
just fills the mouth is as large as your light looks. Held 100 mm away it would be 125 mm wide, held 200 mm away 250
mm (2 times the distance times the tangent of half the angle). Your light itself need not be round. To get a feeling
for it: a fist at the end of your arm is about 10 degrees wide (a rule of thumb, no source).

`size.cone_angle` is that angle: in the table below, about 13 degrees for a bare flash and 66 for a sheet of
paper. `size.solid_angle` says the same as an area of the view. Twice the solid angle is twice the area; the angle
then grows by about 1.4 (for small angles).""",
        """
It is the size of an evenly bright source that is as soft. Where one spot outshines the rest, the figure is smaller
than the sheet that you cut: a bright spot counts as a small light. Only the source counts, not the fill. A long
narrow source and a round one may have the same figure; see [width and height](#apparent-width-and-height).""",
    ),
    Topic(
        "Apparent width and height",
        "extents",
        ("size.width", "size.height"),
        """
How far the light reaches to the sides, and how far up and down, as the subject sees it. Unequal numbers mean shadows
that are softer one way than the other.""",
        """
Each is the width of an even band of light that is spread as much; an even rectangle gives its own sides, an even disc
0.925 of its diameter (derived in [theory](theory.md#101-apparent-size)). Horizontal and vertical are those of the
view towards the middle of the light.""",
    ),
    Topic(
        "Hot spot",
        "hot-spot",
        ("size.hot_spot",),
        """
How many stops the brightest place of the source is above its mean. 0 is a perfectly even sheet. At 1 stop the middle
is twice as bright as the mean: you would see it as a bright core in every highlight.""",
        """
It is read over a circle of 5 degrees; smaller spots are averaged with what is around them. A value reads "below ..."
where its error bar reaches down to 0.""",
    ),
    Topic(
        "Clearance",
        "clearance",
        ("clearance",),
        """
How far the nearest part of the diffuser is from the subject, in mm: the room that is left for leaves, fingers and an
animal that does not like to be touched.""",
        """
A straight line to the surfaces of the rig file, exact up to your ruler. The lens front is not part of it; the
distance from there is the working distance. `lightsim check` looks at everything else that might be in the way.""",
    ),
    Topic(
        "Light at full power and power left",
        "exposure",
        ("exposure.full_power", "exposure.headroom"),
        """
`exposure.full_power` is the light that lands on the subject when the flash fires with all it has. `exposure.headroom`,
called **power left**, is what counts in the field: how many stops are left when the settings of the
[shot](shot.md#read-the-answer) have got what they need. Halve the full power that often: at 3 an eighth of it is
enough, at 4.6 a 24th. Below 0 the flash is too weak.

**Why does f/8 count as f/16?** To focus so near, a lens stands farther from the sensor: at life size twice as far as
for a landscape. What comes through it is spread over twice the width and twice the height, so each place of the sensor
gets a quarter of the light. That is two stops, as much as from f/8 to f/16. At twice life size it stands three times
as far, and a ninth arrives: f/24. (A plain lens; derived in [theory](theory.md#1011-the-shot).) The tool reckons this
for you. Write the f-number that is marked on the lens into the file, and do not take two stops off once more. Some
cameras show the larger number as you focus nearer (from memory); then the marked one is that at the farthest focus.

**`lightsim shot` may say a tenth or two of a stop more or less.** It counts daylight in, and goes to the nearest
power that the flash can be set to.""",
        """
Lenses that change their focal length or their opening as they focus depart from f/16; see `pupil_ratio` in [rig
files](rig-file.md#camera-and-lens). Both figures stand on the guide number of your flash, which is rarely good to
better than half a stop (from memory), and on the constant C = 250 of the light-meter standards. 340 in its place
would add 0.44 stop to every value (derived in [theory](theory.md#3-heads)). The light of the day is left out.""",
    ),
    Topic(
        "Light on planes",
        "planes",
        (
            "illuminance.lens",
            "illuminance.up",
            "illuminance.down",
            "illuminance.left",
            "illuminance.right",
            "illuminance.eye",
            "illuminance.back",
            "illuminance.flank",
        ),
        """
How much light lands on a small card at the subject that faces one way. The card that faces the lens stands for what
the camera sees; `eye`, `back` and `flank` face as your [subject](rig-file.md#subject) does. Their ratios say which
side of the animal is bright and which is dark.""",
        """
The subject is a point: its own body casts no shadow on the card. Compare them as ratios; a factor of two is a stop.""",
    ),
    Topic(
        "Light from all sides",
        "solids",
        ("illuminance.spherical", "illuminance.scalar", "illuminance.cylindrical"),
        """
How much light passes the subject at all, whichever way it comes. A small ball catches light from everywhere alike
(`spherical`; a quarter of it is called `scalar`, so that it can be compared with a card). The wall of an upright can
catches what comes from the sides (`cylindrical`).""",
        """
Of use beside other figures, hardly by themselves. They do not say which side of the subject is lit.""",
    ),
    Topic(
        "Which way the light goes",
        "vector",
        ("illuminance.vector_x", "illuminance.vector_y", "illuminance.vector_z"),
        """
All light summed into one arrow that points the way the light goes: x to the right, y up, z toward the lens. A flash
above the lens sends light down (y below 0) and away from the lens (z below 0). x near 0 means that left and right are
in balance.""",
        """
Lights from opposite sides cancel in it: a short arrow may be little light, or light from everywhere. The next figures
tell the two apart.""",
    ),
    Topic(
        "How directional the light is",
        "directional",
        ("modelling.vector_scalar_ratio",),
        """
How much the light comes from one side. 4 is a beam, with deep shadows; 2 is an even sky; 0 is light from everywhere,
as in fog, without shadows. In a report it is called **vector/scalar ratio**: light summed with its direction (vector),
over light summed without (scalar).

**What is it good for?** A shadow can be soft in two ways. Its *border* is wide: that is the work of a large light, and
the [shadow of an edge](#shadow-of-an-edge) tells it. Or its *dark* is not dark, since other light fills it: this ratio
tells that. So compare your rig with itself. Add a fill card or a second head: if the ratio falls, the dark side gets
more light; if it stays, the card does little for it.

Do not choose between diffusers by it. One even light, straight and alone, has 2 (1 + cosine of half its cone)
(derived here): 4.0 for 13 degrees, still 3.7 for 64. In the table below nearly all that is missing to that is the
leaf, which sends light up from below.""",
        """
One number for the whole: two lights from opposite sides have a low ratio and yet sharp shadows. Look at the [shadow
of an edge](#shadow-of-an-edge), too.""",
    ),
    Topic(
        "Top, underside and fill",
        "modelling",
        ("modelling.top_to_underside", "modelling.fill_share"),
        """
`modelling.top_to_underside` says how many stops brighter the top is than the underside: the larger, the blacker the
belly. `modelling.fill_share` is the part of the light facing the lens that the leaf or a fill card sent back.""",
        """
Both depend on the surroundings that your rig file states; a leaf that is not in the file sends nothing back. The body
of the subject does not shade the leaf, so the real fill may be smaller.""",
    ),
    Topic(
        "Size of the highlight",
        "highlight",
        (
            "highlight.width",
            "highlight.height",
            "highlight.width_pixels",
            "highlight.height_pixels",
            "highlight.diameter_share",
            "highlight.disc_share",
        ),
        """
A shiny eye or wing case mirrors the source: that is the highlight. A ball (3 mm across in the ready files) stands for
it. The figures say how wide and high the bright patch is: in mm, in pixels of your camera, as a share of the ball.
The wider it is, the softer the light looks on everything that shines. These figures say how *large* the patch is. How
*bright* it is, and whether it burns out, is another question: see [highlight against
white](#highlight-against-white).""",
        """
The ball is perfectly round and smooth; many real wing cases are rough and spread the highlight wider (from memory).
Read at half of the brightness of its peak, so a faint rim is not counted: a light with a bright middle may look larger
than an even one, and still have the smaller highlight. Light is taken to be the same all over the
ball.""",
    ),
    Topic(
        "Highlight against white",
        "white",
        ("highlight.stops_above_white",),
        """
How many stops the highlight is brighter than a white card that faces the lens. Above 0, with the card just white in
the picture, the highlight burns out: it is a white hole without detail. Below 0 it keeps its shape and tint.

**Large and bright are two things.** The [size](#size-of-the-highlight) says how much of the eye the patch covers. This
figure says how bright the patch is. The two go against each other. You expose so that the card gets the same light from
every source. A large source has that light spread over more area, so each bit of it is dimmer, and a mirror shows how
bright each *bit* is. From the bare flash to the foam arc the patch covers nearly twenty times as much of the ball, and
is about twenty times dimmer.

So a stronger flash does not burn out the highlight more, once you expose for the card; a smaller one does. Twice the
solid angle is about one stop less. For an even source straight before the card the balance lies at 0.15 sr, a cone of
25 degrees (derived in [theory](theory.md#103-highlight-on-a-ball)). A light from the side or from above lights the card
at a slant, so its highlight is a little brighter against the card: 0.4 stops at 40 degrees off the lens.""",
        """
Of the mirrored light alone: the colour of the body under the gloss adds to it. The ball's refractive index is 1.56
unless your file says otherwise.""",
    ),
    Topic(
        "Pieces and gaps of the highlight",
        "pieces",
        ("highlight.gap_share", "highlight.count"),
        """
Whether the highlight is one patch. `highlight.gap_share` is the part of its outline that is dark: the hole for the
lens, a seam. `highlight.count` is the number of patches: two wings beside the lens make two.""",
        """
The count is a whole number by three rules (within three stops of the peak, 2 % of the light, a dip below half between
them) that were chosen here. A patch that nearly meets a rule may count in one run and not in the next.""",
    ),
    Topic(
        "Shadow of an edge",
        "edge",
        ("shadow.edge",),
        """
How wide the soft border is that an edge, such as a leg or the rim of a wing case, throws on what lies below it. The
report measures an edge 1 mm above the skin, or as high as your file says. 0.2 mm looks hard, 1 mm looks soft (a
choice, no source). There are two figures: the border measured across the picture, and up and down.

**Why does a larger light make it wider?** Go below the edge, as an ant would, and look up at the light. Deep in the
shadow you see nothing of it, far outside you see all of it. In between the edge hides a part: that is the soft border.
A small light comes out from behind the edge almost at once, a large one takes a longer way. So twice as wide to look
at is about twice the border. [Notebook 1](notebooks.md#1-why-does-a-bigger-source-look-softer) shows it in pictures;
the [classroom](classroom.md#1-the-edge-of-a-shadow) has it on a table.""",
        """
From 10 % to 90 % of the light that the edge can hide (common practice for edges, no source). The width grows with the
height of the edge: twice as high, about twice as wide. Light from sources lower than the edge is left out.""",
    ),
    Topic(
        "Shadow of a hair",
        "hair",
        ("shadow.hair",),
        """
How dark a fine hair's shadow is: the share of the light that is missing where it is darkest. 50 % is a line that you
see at once, below 5 % it melts away. `hair_x` is measured across the picture, `hair_y` up and down.""",
        """
One round, opaque hair of the thickness and height in your file (0.05 mm, 0.5 mm high in the ready ones). Light is
taken to go straight: the bending of light at fine hairs (diffraction) is left out. What one sees at once was not
tested here.""",
    ),
    Topic(
        "How fast the light falls off",
        "exponent",
        ("falloff.exponent",),
        """
How strongly the light changes with the distance from the source. 2 is the inverse-square law: twice the distance, a
quarter of the light. It holds for a light that is small against its distance. A large one close by has less than 2: 1 %
farther costs less than 2 % of the light.

**Why less?** A glowing sheet is as bright to look at from near as from far; from afar it only looks smaller. So
what you get goes by how much of the view it fills. A small light fills a quarter as much from twice as far: hence
the square. A flat sheet close by fills nearly half of all that is around you. It can never fill more than half, so
nearer or farther by a little hardly matters. Bit by bit it is no riddle either. Each bit of the sheet obeys the
inverse square. But as you step back from the middle, the way to the rim grows by less, and light from the rim comes
less at a slant.

**And why is the background behind a diffuser dark, then?** This figure counts in *parts of the distance*, not in mm. A
step of 10 mm is a ninth of the way from a sheet 90 mm off, and only a 25th from a flash 250 mm off. The foam arc, about
90 mm away, has the lower figure and yet the darker background, 150 mm behind, than the bare flash from about 250 mm.
For mm, see the [next figures](#light-beside-and-behind-the-subject).""",
        """
Of the source alone, at the subject, for small steps along the line to the middle of the source. For an even disc of
radius r at distance d it is 2d²/(d² + r²) (derived in [theory](theory.md#105-falloff)).""",
    ),
    Topic(
        "Light beside and behind the subject",
        "places",
        ("falloff.at",),
        """
How much darker (negative) or brighter (positive) other places are than the subject: a few mm nearer or farther, at
the edges of the picture, on a background. A background at −5 stops is nearly black; at −1 it is well visible (common
practice, no source).""",
        """
Each place is a small plane that faces the lens, lit with nothing in between but the rig: the subject casts no shadow.
A place below the leaf or behind it lies in the leaf's shadow and can be very dark, such as the bottom of the field.""",
    ),
    Topic(
        "Light lost",
        "lost",
        ("loss.total", "loss.stage"),
        """
What softness costs. `loss.total` is how many stops less arrives than the same flash would give without anything
before it, aimed straight at the subject. Where that light went instead, [the budget](#where-the-light-goes) tells.
2 stops mean four times the flash power. The stages say where it goes: as mounted (tilt, the lens in the way), then
each part of the diffuser, then the surroundings. Below 0 a stage gains light: a white box catches what the front
sheet would lose.""",
        """
The stages add up to the whole. The share of one part depends on the order in the file: a box without its front gains
less than a box behind one. The table sums the parts of a diffuser; the report has one line for each.""",
    ),
    Topic(
        "Price of a doubling",
        "doubling",
        ("loss.per_doubling",),
        """
How many stops you pay for each doubling of the area that the light seems to have: the lower, the better the bargain.
A design at 0.4 buys twice the area for 0.4 stop.

**What does 0.42 mean for my flash?** Each doubling asks a third more light of it (2 to the power of 0.42 is 1.34). From
the bare flash to the white box the area grows 24 times, which is 4.6 doublings. 4.6 times 0.42 makes 1.9 stops: nearly
four times the light, six clicks on a flash that is set in thirds of a stop. Whether your flash has them says [power
left](#light-at-full-power-and-power-left). Mind that *area* is doubled here: a light that looks twice as *wide* has
about four times the area, two doublings.""",
        """
A mean from the bare flash up to this design, not what the next doubling would cost. Without meaning where the source
grows by less than 5 %.""",
    ),
    Topic(
        "Light on the lens front",
        "lens-front",
        ("loss.lens_front",),
        """
How bright the front of the lens is lit against the subject. Light that enters from the side makes veiling glare: a
grey haze. −10 is dark, above −3 a hood or a baffle is worth a try (a choice, no source).""",
        """
It says how much light arrives there, not how much haze your lens makes of it. The mean of four points of the front.""",
    ),
    Topic(
        "Where the light goes",
        "budget",
        ("budget",),
        """
Of all light that left the flash: how much each part swallowed (`absorbed by`; it turns to heat there), and how much
flew off into the room without meeting anything more (`escaped past`, named by what it left last). In the white box
nearly half ends in the walls, an eighth goes back into the flash head, and a third comes out, by the front or through
the thin walls, and flies past the subject.
A flat sheet of paper swallows only 3 %. The flash misses it with part of its light, and of what meets it most is thrown
back, into the room and onto the lens.

**This is not the light lost.** The bare flash has lost nothing, and yet five sixths of its light fly past. Only a few
parts in a thousand of it land on the field of the picture, with a diffuser about one or less. [Light lost](#light-lost)
compares what the subject gets with what the bare flash would give it. So a box may swallow two thirds of all light and
still cost less than a bare sheet of paper: what it does not swallow it sends through the front.""",
        """
All rows sum to 100 % by how they are counted, so the sum proves nothing. They have no error bar of their own. `lost
by ending paths` is what is left when long paths are ended by chance; it should be near 0.""",
    ),
)
