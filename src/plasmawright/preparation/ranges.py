"""Every field's unit, range and the reason for it: one table for the reader, the pages and the manual.

The ranges are wide on purpose: they hold every blood, tube and spin a bench may meet, and no more than the prediction
can carry through. Keys are the section's kind and the field, such as ``spin.minutes``.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from plasmawright.errors import OutOfRange, Refusal


@dataclass(frozen=True, kw_only=True)
class Slip:
    """A slip of the pen: a number given in another unit, and what to write instead.

    ``unit_ratio`` turns the number given into this field's unit; ``words`` may use ``{given}`` and ``{value}``.
    """

    unit_ratio: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Range:
    """What a number may be, ends included, and why; ``remedy`` is said when no likely slip explains the number."""

    unit: str
    low: float
    high: float
    reason: str
    remedy: str
    slips: tuple[Slip, ...] = field(default=())

    def check(self, name: str, value: float) -> None:
        """Refuse ``value`` of the field ``name`` when it is not a finite number in this range."""
        if not math.isfinite(value):
            limit = f"it must be a number between {self.low:g} and {self.high:g}"
            raise Refusal(name, value, limit, f"Give the number itself. {self.reason}")
        if not self.low <= value <= self.high:
            raise OutOfRange(name, value, self.low, self.high, self._way_out(value))

    def _way_out(self, value: float) -> str:
        for slip in self.slips:
            meant = value * slip.unit_ratio
            if self.low <= meant <= self.high:
                return slip.words.format(given=f"{value:.10g}", value=f"{meant:.6g}")
        return self.remedy


PER_CENT = Slip(unit_ratio=0.01, words="A percentage? Write {value}.")
CENTIMETRES = Slip(unit_ratio=10, words="Centimetres? Write {value}.")
PER_MICROLITRE = Slip(unit_ratio=1e-3, words="Counts are in 1e9/L: {given}/uL is {value}.")
PER_LITRE = Slip(unit_ratio=1e-9, words="Counts are in 1e9/L: {given}/L is {value}.")
SECONDS = Slip(unit_ratio=1 / 60, words="Seconds? Write {value} minutes.")
PER_THOUSAND_BILLION = Slip(unit_ratio=1e3, words="Counts are in 1e9/L: {given} in 1e12/L is {value}.")

PLACES = Range(
    unit="",
    low=1,
    high=72,
    reason="Bench rotors have from 2 to 72 places.",
    remedy="Count the places around the rotor, filled or not.",
)
TUBE_MASS_G = Range(
    unit="g",
    low=0.001,
    high=5000,
    reason="From a small tube's contents to the heaviest bucket of a floor centrifuge.",
    remedy="Weigh each tube in grams; leave out tubes that are not there.",
)
_TUBES = Range(
    unit="",
    low=1,
    high=72,
    reason="At least one tube, and no more than a rotor can hold at once.",
    remedy="Give the number of tubes that are spun together.",
)
_RADIUS_MM = Range(
    unit="mm",
    low=20,
    high=400,
    reason="From the smallest bench rotor to a floor-standing one.",
    remedy="Measure from the rotor's centre to the inside of the tube bottom, while spinning.",
    slips=(CENTIMETRES,),
)
_MAX_RCF = Range(
    unit="g",
    low=10,
    high=30_000,
    reason="Printed on the rotor or the tube; nothing weaker or stronger is used for blood.",
    remedy="Read the limit from the rotor's or the tube's own papers, as a multiple of gravity and not in rpm.",
)
_RAMP_S = Range(
    unit="s",
    low=0,
    high=1200,
    reason="Soft ramps take minutes; twenty is longer than any bench centrifuge needs.",
    remedy="Time the centrifuge with a watch; write 0 for a ramp too short to count.",
)

RANGES: Mapping[str, Range] = {
    "blood.hematocrit_frac": Range(
        unit="",
        low=0.05,
        high=0.70,
        reason="Below 0.05 there is hardly a red cell to settle, above 0.70 hardly plasma to take.",
        remedy="Write the share of red cells in the blood as drawn, such as 0.42.",
        slips=(PER_CENT,),
    ),
    "blood.platelets_1e9_per_l": Range(
        unit="1e9/L",
        low=1,
        high=3000,
        reason="From the lowest count seen alive to the highest seen in disease.",
        remedy="Write the count of the undiluted blood in 1e9/L, such as 250.",
        slips=(PER_MICROLITRE, PER_LITRE, PER_THOUSAND_BILLION),
    ),
    "blood.white_cells_1e9_per_l": Range(
        unit="1e9/L",
        low=0.1,
        high=200,
        reason="Above 200 white cells are no longer a thin layer, and this model does not speak of leukaemia.",
        remedy="Write the count of the undiluted blood in 1e9/L, such as 6.5.",
        slips=(PER_MICROLITRE, PER_LITRE),
    ),
    "blood.lymphocytes_frac": Range(
        unit="",
        low=0,
        high=1,
        reason="A share of the white cells.",
        remedy="Write the share of white cells, such as 0.30.",
        slips=(PER_CENT,),
    ),
    "blood.monocytes_frac": Range(
        unit="",
        low=0,
        high=1,
        reason="A share of the white cells.",
        remedy="Write the share of white cells, such as 0.07.",
        slips=(PER_CENT,),
    ),
    "blood.mean_platelet_volume_fl": Range(
        unit="fL",
        low=4,
        high=20,
        reason="Analysers print from about 6 to 14 fL; beyond 4 to 20 fL they count something else.",
        remedy="Write the mean platelet volume in femtolitres, such as 9.0.",
    ),
    "blood.temperature_c": Range(
        unit="°C",
        low=4,
        high=40,
        reason="From a cold room to blood just drawn; proteins change above.",
        remedy="Write the temperature of the blood in the centrifuge in degrees Celsius, such as 22.",
    ),
    "collection.tubes": _TUBES,
    "collection.blood_ml": Range(
        unit="mL",
        low=0.5,
        high=100,
        reason="From a child's tube to the largest bottle that fits a bench rotor.",
        remedy="Write the blood in each tube, in mL, without the anticoagulant.",
    ),
    "collection.anticoagulant_ml": Range(
        unit="mL",
        low=0,
        high=30,
        reason="It is a volume in each tube, never a ratio.",
        remedy="Write the anticoagulant in each tube in mL, such as 1.5 with 8.5 of blood; a ratio is not converted.",
    ),
    "tubes.inner_diameter_mm": Range(
        unit="mm",
        low=4,
        high=60,
        reason="Below 4 mm the wall holds cells back, and no bench rotor takes a tube wider than 60 mm.",
        remedy="Measure the bore of the straight part, not the outside.",
        slips=(CENTIMETRES,),
    ),
    "tubes.capacity_ml": Range(
        unit="mL",
        low=0.5,
        high=250,
        reason="From the smallest collection tube to the largest bottle that fits a bench rotor.",
        remedy="Write what the tube holds to its brim or its highest mark, in mL.",
    ),
    "tubes.cone_height_mm": Range(
        unit="mm",
        low=1,
        high=100,
        reason="The height of the cone alone, from the inside of its tip to where the straight part begins.",
        remedy="Measure the cone, not the whole tube.",
    ),
    "tubes.tip_diameter_mm": Range(
        unit="mm",
        low=0.5,
        high=50,
        reason="No tube ends in a mathematical point, and the pellet's height needs the true width.",
        remedy="Measure the inside of the tip; half a millimetre will do for a sharp one.",
    ),
    "tubes.bottom_radius_mm": _RADIUS_MM,
    "tubes.max_rcf": _MAX_RCF,
    "tubes.empty_mass_g": Range(
        unit="g",
        low=0.1,
        high=500,
        reason="Needed only to make counterweights.",
        remedy="Weigh the empty tube with its stopper, in grams.",
    ),
    "rotor.bottom_radius_mm": _RADIUS_MM,
    "rotor.angle_deg": Range(
        unit="°",
        low=15,
        high=90,
        reason="90 is a swing-out; fixed angles on benches lie between 20 and 50.",
        remedy="Write the angle between the tube and the axis while spinning; 90 for a swing-out.",
    ),
    "rotor.max_rcf": _MAX_RCF,
    "spin.rcf": Range(
        unit="g",
        low=5,
        high=30_000,
        reason="Weaker than 5 g the tube might as well stand, stronger than 30 000 g no collection tube survives.",
        remedy="Write the relative centrifugal force as a multiple of gravity, such as 160.",
    ),
    "spin.rpm": Range(
        unit="rpm",
        low=50,
        high=30_000,
        reason="From the slowest steady speed of a bench centrifuge to beyond its fastest.",
        remedy="Write the speed in revolutions a minute, such as 950.",
    ),
    "spin.minutes": Range(
        unit="min",
        low=0.1,
        high=120,
        reason="The time at full speed; two hours is beyond any use of blood.",
        remedy="Write the minutes at full speed, ramps apart.",
        slips=(SECONDS,),
    ),
    "spin.up_s": _RAMP_S,
    "spin.down_s": _RAMP_S,
    "withdraw.above_cells_mm": Range(
        unit="mm",
        low=0,
        high=150,
        reason="A distance upwards from the red cells; below them there is nothing to take.",
        remedy='To take the buffy coat too write stop = "with_buffy_coat" and the mm below the red-cell surface.',
    ),
    "withdraw.with_buffy_coat": Range(
        unit="mm",
        low=0,
        high=20,
        reason="How far below the red-cell surface the tip goes; deeper it takes red cells alone.",
        remedy='Count downwards from the red-cell surface; to stop above it write stop = "above_cells_mm".',
    ),
    "withdraw.volume_ml": Range(
        unit="mL",
        low=0.05,
        high=100,
        reason="What is taken from each tube; less than a drop cannot be drawn up.",
        remedy="Write the mL to take from each tube, not from all together.",
    ),
    "withdraw.pool_tubes": _TUBES,
    "remove_supernatant.leave_ml": Range(
        unit="mL",
        low=0.1,
        high=250,
        reason="What stays over all tubes together must at least wet the pellet.",
        remedy="Write the mL that stay with the pellets, over all tubes.",
    ),
    "resuspend.handling_frac": Range(
        unit="",
        low=0.05,
        high=1,
        reason="The share of pelleted platelets that come back into suspension.",
        remedy="Write a share, such as 0.87.",
        slips=(PER_CENT,),
    ),
    "patient.weight_kg": Range(
        unit="kg",
        low=8,
        high=300,
        reason="From a small child to the heaviest adult a scale is made for.",
        remedy="Write the weight in kilograms.",
    ),
    "patient.height_cm": Range(
        unit="cm",
        low=60,
        high=230,
        reason="Standing heights.",
        remedy="Write the height in centimetres.",
        slips=(Slip(unit_ratio=100, words="Metres? Write {value}."),),
    ),
    "patient.age_years": Range(
        unit="years",
        low=1,
        high=115,
        reason="Younger than one is no patient for this bench.",
        remedy="Write whole years.",
    ),
    "blood.hemoglobin_g_per_dl": Range(
        unit="g/dL",
        low=3,
        high=25,
        reason="Below 3 nobody walks in, above 25 blood hardly flows.",
        remedy="Write haemoglobin in g/dL, such as 13.6.",
        slips=(Slip(unit_ratio=0.1, words="Grams per litre? Write {value}."),),
    ),
    "blood.counted_days_ago": Range(
        unit="days",
        low=0,
        high=3650,
        reason="A count of more than ten years ago says nothing.",
        remedy="Leave the count out, or count again.",
    ),
    "bench.blood_ml": Range(
        unit="mL",
        low=0.5,
        high=60,
        reason="What one collection tube or syringe draws.",
        remedy="Write the blood in one tube, without its anticoagulant.",
    ),
    "bench.anticoagulant_ml": Range(
        unit="mL",
        low=0,
        high=20,
        reason="What stands in one tube before the draw.",
        remedy="Write the anticoagulant in one tube; 1.5 mL in 8.5 mL of blood is not 1:9.",
    ),
    "bench.tubes_at_hand": _TUBES,
    "bench.second_tubes_at_hand": _TUBES,
    "bench.places": PLACES,
    "bench.max_blood_ml": Range(
        unit="mL",
        low=0.5,
        high=600,
        reason="More than a whole donation is never drawn for this.",
        remedy="Write the most blood you would draw today.",
    ),
    "bench.temperature_c": Range(
        unit="degC",
        low=4,
        high=40,
        reason="Blood is not frozen and not cooked.",
        remedy="Write the room's temperature.",
    ),
    "bench.stop_spread_mm": Range(
        unit="mm",
        low=0.1,
        high=10,
        reason="A hand that stops closer than a tenth of a millimetre, or misses by a centimetre, is none.",
        remedy="Measure it with the stop-line drill, or leave it out.",
    ),
    "sites.volume_ml": Range(
        unit="mL",
        low=0.05,
        high=60,
        reason="From a droplet to a large syringe.",
        remedy="Write the volume for this one site.",
    ),
    "sites.platelets_1e9": Range(
        unit="1e9",
        low=0.001,
        high=1e15,
        reason="Any wish may be made; what cannot be met is answered with what can.",
        remedy="Write billions of platelets for this site, or leave the wish out.",
    ),
    "limits.red_cells_1e12_per_l": Range(
        unit="1e12/L",
        low=0.001,
        high=6,
        reason="Whole blood has about 4.5.",
        remedy="Red cells are in 1e12/L: 100e9/L is 0.1.",
        slips=(Slip(unit_ratio=1e-3, words="Red cells are in 1e12/L: {given}e9/L is {value}."),),
    ),
}
