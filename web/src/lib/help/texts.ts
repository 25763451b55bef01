// Help in place: what a measurement is, how it is taken, why it matters. One entry for each help key of the plane's
// page, and a few general topics. Sketches are our own drawings.
import aileron from './sketches/aileron.svg?raw'
import armSquare from './sketches/arm_square.svg?raw'
import bladeChord from './sketches/blade_chord.svg?raw'
import cgHang from './sketches/cg_hang.svg?raw'
import deployment from './sketches/deployment.svg?raw'
import fold from './sketches/fold.svg?raw'
import fourBar from './sketches/four_bar.svg?raw'
import holdingStick from './sketches/holding_stick.svg?raw'
import hornRadius from './sketches/horn_radius.svg?raw'
import incidence from './sketches/incidence.svg?raw'
import spanChord from './sketches/span_chord.svg?raw'
import spline from './sketches/spline.svg?raw'
import staggerGap from './sketches/stagger_gap.svg?raw'
import throttleBand from './sketches/throttle_band.svg?raw'
import throwGauge from './sketches/throw_gauge.svg?raw'

export interface HelpText {
  title: string
  body: string[]
  sketch: string | null
  source: string
}

export const HELP: Record<string, HelpText> = {
  name: {
    title: 'Name of the plane',
    body: [
      'What you call it. It stands on every page, on the plan and on the printed sheet.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  format: {
    title: 'Edition of the file',
    body: [
      'Which edition of the plane file this is. Evenfall writes it; leave it as it is.',
    ],
    sketch: null,
    source: 'Evenfall’s own file',
  },
  datum: {
    title: 'Where x and z count from',
    body: [
      'Every place is measured from one point: x aft, z up.',
      'Usual is the propeller disc and the thrust line. With "wing" it is the leading edge of the upper wing at its root, and the propeller needs its own x and z.',
      'One datum for all places is what counts: a rule along the body and a square to the bench are enough.',
    ],
    sketch: staggerGap,
    source: 'common practice, no source',
  },
  wanted_speed: {
    title: 'Wanted speed',
    body: [
      'The one speed you want on every line, up, level and down. The plan is made for it.',
      'Fly level at the stick you like and time a pass both ways, or give that stick and let the speed follow from the power train.',
      'Everything hangs on it: drag grows with its square, so a tenth too fast asks for a fifth more braking.',
    ],
    sketch: holdingStick,
    source: 'common practice, no source',
  },
  timed_pass: {
    title: 'Timed pass',
    body: [
      'Two marks a known distance apart, the plane level at one stick, timed out and back.',
      'Measure the distance with a tape or count steps, use a stop watch or a film, and fly both ways without touching the throttle.',
      'The mean of both speeds is free of the wind along the course.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  all_up_mass: {
    title: 'All-up mass',
    body: [
      'The plane ready to fly, with battery.',
      'Put it on a kitchen scale, two scales added up if it is large.',
      'Weight is what pulls the plane down the line; braking has to hold exactly that.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  cg: {
    title: 'Centre of gravity',
    body: [
      'Where the plane balances along its length, aft of the datum.',
      'Balance it under the wing roots on two points, battery in, and measure from the datum.',
      'Every moment is counted about it: two millimetres change the elevator on a down line.',
    ],
    sketch: cgHang,
    source: 'common practice, no source',
  },
  cg_height: {
    title: 'Height of the CG',
    body: [
      'How high the CG stands above the datum.',
      'Hang the plane from one point, mark the plumb line on its side, hang it from another and mark again: the CG is at the crossing.',
      'A braking propeller and wings above and below the CG pitch the plane by this lever. Without it the middle between the wings is taken.',
    ],
    sketch: cgHang,
    source: 'common practice, no source',
  },
  lateral_balance: {
    title: 'Lateral balance',
    body: [
      'Whether one side is heavier.',
      'Hold the plane at spinner and fin, and add weight to the light tip until the wings stay level.',
      'Out of balance it rolls as soon as the lift goes away, which is what a vertical line is.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  span: {
    title: 'Span',
    body: [
      'From tip to tip, straight across, with both panels on.',
      'Lay the plane on its back and use a tape between two squares set against the tips.',
      'Area, roll and the price of opposed lift all come from it.',
    ],
    sketch: spanChord,
    source: 'common practice, no source',
  },
  chord: {
    title: 'Chord',
    body: [
      'From leading edge to trailing edge, straight along the flow, at the root and at the tip.',
      'Measure with a rule at the body side and at the very end before the tip rounds off, surfaces at neutral.',
      'Root and tip give the area and the mean chord.',
    ],
    sketch: spanChord,
    source: 'common practice, no source',
  },
  place: {
    title: 'Place of a surface',
    body: [
      'Where its root leading edge stands along the body and in height.',
      'Set a square on the bench at the datum and measure back to it.',
      'It fixes the lever of the tail and the stagger of the wings.',
    ],
    sketch: staggerGap,
    source: 'common practice, no source',
  },
  sweep: {
    title: 'Leading edge at the tip',
    body: [
      'Where the leading edge stands at the tip, from the same datum.',
      'Sight along a straight rule laid across both tips.',
      'The difference to the root is the sweep; it moves the lift aft.',
    ],
    sketch: spanChord,
    source: 'common practice, no source',
  },
  gap: {
    title: 'Gap and stagger',
    body: [
      'Height of the wing; between two wings it makes the gap. Stagger is how far the upper wing’s quarter chord stands ahead of the lower one’s.',
      'Measure to the quarter chord at the root, from the thrust line.',
      'A small gap costs lift; with stagger, opposed crow pitches the plane.',
    ],
    sketch: staggerGap,
    source: 'L. Prandtl, Induced drag of multiplanes, NACA TN 182, 1924',
  },
  dihedral: {
    title: 'Dihedral',
    body: [
      'How much the tips stand above the root.',
      'Block one panel level, measure how far the other tip is lifted, or lay an angle gauge on each panel.',
      'It couples yaw and roll; aerobatic wings have little.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  incidence: {
    title: 'Incidence',
    body: [
      'Angle of the chord line to the thrust line, nose up positive.',
      'Put an angle gauge on each panel and on the tail, plane blocked so that the thrust line is level.',
      'A tenth of a degree between the two wings already bends a vertical line.',
    ],
    sketch: incidence,
    source: 'common practice, no source',
  },
  section: {
    title: 'Section and thickness',
    body: [
      'The shape of the wing across: a symmetric four-digit section or a flat plate.',
      'Put callipers across the thickest place at the root and divide by the chord, or read the plan.',
      'It decides how the aileron works when it is far out; only symmetric sections have tables.',
    ],
    sketch: aileron,
    source: 'E. N. Jacobs and others, NACA report 460, 1933',
  },
  aileron_span: {
    title: 'Ends of the aileron',
    body: [
      'Distance of its inner and outer end from the middle of the plane.',
      'Measure along the hinge line from the middle of the body.',
      'Outer parts roll more, inner parts only brake.',
    ],
    sketch: aileron,
    source: 'common practice, no source',
  },
  aileron_chord: {
    title: 'Aileron chord',
    body: [
      'From the hinge line to the trailing edge, at both ends.',
      'Use a rule behind the hinge line, surface at neutral.',
      'A wide aileron brakes more for each degree and loads its servo with the square of its chord.',
    ],
    sketch: aileron,
    source: 'common practice, no source',
  },
  hinge_gap: {
    title: 'Hinge gap',
    body: [
      'Sealed with tape or covering, or open.',
      'Hold it to the light: light means open.',
      'An open gap loses some of the throw’s effect and adds drag.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  greatest_throw: {
    title: 'Greatest throw',
    body: [
      'How far the hinges let the surface go, up and down.',
      'Disconnect the rod, clip on an angle gauge, set it to zero at neutral and push until it stops without force.',
      'It limits crow and snap together; a servo pushing against it stalls.',
    ],
    sketch: throwGauge,
    source: 'common practice, no source',
  },
  tail_chord: {
    title: 'Elevator and rudder chord',
    body: [
      'Chord of the moving part over the whole chord there, in percent.',
      'Measure from the hinge line to the trailing edge and from leading to trailing edge; 100 percent is a surface that moves as a whole.',
      'It sets how much elevator holds the line straight with crow out.',
    ],
    sketch: throwGauge,
    source: 'common practice, no source',
  },
  fin_height: {
    title: 'Height of the fin',
    body: [
      'From its lower to its upper end, rudder included, and where the lower end stands.',
      'Measure upright from the thrust line; below it counts negative.',
      'It holds the plane straight in yaw when the ailerons pull to one side.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  fin_offset: {
    title: 'Fin turned',
    body: [
      'Whether the fin is set a little to one side, leading edge to the right positive.',
      'Sight from behind along the body, or compare the fin with a thread from nose to tail.',
      'Set for full power it pulls sideways on a down line.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  body: {
    title: 'Body',
    body: [
      'Greatest length, width and height, as a box would hold it.',
      'Measure over the widest and highest place.',
      'A blunt body is a good part of the drag that slows a vertical line.',
    ],
    sketch: null,
    source: 'S. F. Hoerner, Fluid-Dynamic Drag, 1965',
  },
  drag_part: {
    title: 'Parts that drag',
    body: [
      'Wheels, legs, wires, struts and openings, with their size across the flow.',
      'Measure each kind once and say how many alike there are.',
      'They add up: on a light model they can brake as much as the body does.',
    ],
    sketch: null,
    source: 'S. F. Hoerner, Fluid-Dynamic Drag, 1965',
  },
  drag_area: {
    title: 'Drag area',
    body: [
      'Drag coefficient times area, for a part that has no dimensions here.',
      'Take frontal area times about 1 for a bluff part, times 0.1 for a rounded one.',
      'It is uncertain by a third; flights shrink that.',
    ],
    sketch: null,
    source: 'S. F. Hoerner, Fluid-Dynamic Drag, 1965',
  },
  propeller: {
    title: 'Diameter and pitch',
    body: [
      'As printed on the blade, and how many blades.',
      'Check the diameter with a rule, tip to tip.',
      'A braked or windmilling propeller is a brake itself: its drag grows with the square of the diameter.',
    ],
    sketch: bladeChord,
    source: 'UIUC propeller data, J. B. Brandt and M. S. Selig, AIAA paper 2011-1255',
  },
  blade_shape: {
    title: 'Shape of the blades',
    body: [
      'Slim, medium, broad or folding, as seen from the front.',
      'At three quarters of the radius a slim blade is about an eighth of the radius wide, a medium one a seventh, a broad one a fifth.',
      'Slim and broad blades differ by a factor of three in braked drag. A folding one is computed as a slim one, which is an assumption.',
    ],
    sketch: bladeChord,
    source: 'UIUC propeller data, J. B. Brandt and M. S. Selig, AIAA paper 2011-1255',
  },
  blade_chord: {
    title: 'Blade chord at 75 % radius',
    body: [
      'Width of the blade at three quarters of the way out.',
      'Lay a rule flat across the blade there, along its twist.',
      'Thrust and braked drag go with it; it takes their doubt from 8 to 3 percent.',
    ],
    sketch: bladeChord,
    source: 'common practice, no source',
  },
  blade_station: {
    title: 'Blade station',
    body: [
      'Chord and angle of the blade at one radius.',
      'Mark the radius on tape, measure the chord with callipers and the angle with a gauge on the flat side. Four stations or more from root to tip.',
      'Measured stations replace the family’s shape.',
    ],
    sketch: bladeChord,
    source: 'common practice, no source',
  },
  propeller_mass: {
    title: 'Mass of the propeller',
    body: [
      'What the propeller weighs.',
      'Put it on a letter scale.',
      'It decides how quickly the shaft follows the motor brake.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  motor_kv: {
    title: 'Speed constant and mass',
    body: [
      'Turns a minute for each volt, from the label.',
      'Where you have a rev counter: no-load speed over voltage. Weigh the motor without its mount.',
      'It ties speed to voltage and torque to current, driving and braking.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  motor_resistance: {
    title: 'Motor resistance',
    body: [
      'Between two of the three wires.',
      'Pass 5 A from a limited supply through two wires and divide the voltage between them by it; a common meter cannot see so little.',
      'The strongest level of motor brake and the loss at full stick hang on it.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  motor_inductance: {
    title: 'Motor inductance',
    body: [
      'Between two of the three wires.',
      'Use an LCR meter at 1 kHz and take the mean of the three pairs.',
      'It decides at which level of motor brake two propeller speeds are possible.',
    ],
    sketch: fold,
    source: 'common practice, no source',
  },
  pole_pairs: {
    title: 'Pole pairs',
    body: [
      'Half the number of magnets in the bell.',
      'Count them with a small steel screw; 14 magnets are usual.',
      'With the inductance it limits the strongest levels of the motor brake.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  no_load: {
    title: 'No-load run',
    body: [
      'Current and voltage of the motor running free.',
      'Take the propeller off, run at about 10 V and read both.',
      'It is the friction that brakes even with the motor brake off.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  controller: {
    title: 'Resistance and diodes',
    body: [
      'Resistance of the switched path, and the voltage lost in one diode.',
      'Take both from the data sheet, or leave the guess.',
      'Both shift the motor brake by a few percent only.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  brake_levels: {
    title: 'Motor-brake levels',
    body: [
      'Every setting of the brake the controller offers, weakest first, and the one that is set now.',
      'Read them with its programmer. Write percents or names.',
      'A level’s percent is neither torque nor surely its pulse: the middle ones can be stronger than the last.',
    ],
    sketch: fold,
    source: 'computed by Evenfall; see the shaft picture',
  },
  brake_frequency: {
    title: 'Pulse frequency of the motor brake',
    body: [
      'How often a second the controller shorts the motor while it brakes.',
      'Read it in the manual, or put an oscilloscope on one motor wire.',
      'It moves the band in which two propeller speeds are possible. Unknown, 8, 16 and 24 kHz are all tried.',
    ],
    sketch: fold,
    source: 'computed by Evenfall; see the shaft picture',
  },
  synchronous: {
    title: 'Braking into the battery',
    body: [
      'Whether the controller drives the motor actively both ways, so that it brakes at low throttle.',
      'The manual calls it active or synchronous freewheeling.',
      'With it the motor already brakes on shallow down lines.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  closed_band: {
    title: 'Closed band and start stick',
    body: [
      'Below the end of the closed band the motor is held and its brake acts; at the start stick the motor runs again.',
      'Take the propeller off, raise the stick slowly and read the radio’s monitor; lower it again.',
      'A line whose stick falls between the two cannot be flown steadily.',
    ],
    sketch: throttleBand,
    source: 'common practice, no source',
  },
  brake_delays: {
    title: 'Delays',
    body: [
      'How long the controller waits before it brakes, and before the motor runs again.',
      'Film motor and stick together, propeller off, and count frames.',
      'The first second of a down line and the pull-out hang on them.',
    ],
    sketch: throttleBand,
    source: 'common practice, no source',
  },
  measured_level: {
    title: 'Measured level',
    body: [
      'Torque of the braked motor over its shaft speed, at one level.',
      'Turn the shaft with a second motor and read the torque on a lever and a scale, at a known speed.',
      'It replaces the guess of a factor of two by a tenth.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  battery: {
    title: 'Cells and capacity',
    body: [
      'Cells in series and capacity, from the label.',
      'Count the cells at the balance plug.',
      'They set voltage and sag: how high a line can be climbed at the wanted speed.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  battery_resistance: {
    title: 'Resistance of the pack',
    body: [
      'All cells together, warm.',
      'Read it from the charger and add the cells up.',
      'It is what full throttle loses; on down lines it hardly counts.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  rest_voltage: {
    title: 'Voltage at rest',
    body: [
      'Voltage of one cell at rest in the middle of a flight.',
      'Use a cell checker after half a flight; 3.85 V is usual.',
      'Stick positions are computed for it.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  servo: {
    title: 'Torque and speed',
    body: [
      'Stall torque and speed of the aileron servo at one voltage.',
      'Take them from the data sheet at the voltage your receiver supply gives.',
      'Crow, snap and trim together must stay under half the stall torque at 1.3 times the wanted speed.',
    ],
    sketch: armSquare,
    source: 'common practice, no source',
  },
  spline: {
    title: 'Spline and horn arms',
    body: [
      'Teeth of the output shaft once round, and how many arms the fitted horn has.',
      'Count with a needle, or read the data sheet; 25 and 24 are usual.',
      'One tooth is the coarse step of the arm offset; arms and turning over make it finer.',
    ],
    sketch: spline,
    source: 'common practice, no source',
  },
  servo_gain: {
    title: 'Pulse for each degree',
    body: [
      'How much pulse moves the arm one degree.',
      'Lay a protractor on the servo, send two pulses 400 us apart, divide.',
      'Every angle on the bench comes through it.',
    ],
    sketch: armSquare,
    source: 'common practice, no source',
  },
  servo_travel: {
    title: 'Travel and pulse limits',
    body: [
      'How far the arm turns either way, and which pulses it still obeys.',
      'Move it with a servo tester to where it stops by itself.',
      'What crow uses of it is not left for the snap.',
    ],
    sketch: armSquare,
    source: 'common practice, no source',
  },
  arm: {
    title: 'Servo arm',
    body: [
      'From the servo’s axis to the pin, and the other holes the arm offers.',
      'Measure with callipers, centre to centre.',
      'A shorter arm gives less throw, finer steps and less load.',
    ],
    sketch: fourBar,
    source: 'common practice, no source',
  },
  horn: {
    title: 'Horn',
    body: [
      'From the hinge line to the pin, not to the skin, and how far the pin stands aft of the hinge line at neutral.',
      'Sight along the hinge line with a square.',
      'A pin that is not over the hinge line makes the throws up and down differ.',
    ],
    sketch: hornRadius,
    source: 'common practice, no source',
  },
  four_bar: {
    title: 'Rod and distances',
    body: [
      'Length of the rod pin to pin, and where the servo axis stands to the hinge line: along the chord and above it.',
      'Measure with the surface at neutral. Say on which side the horn stands and whether the arm stands on the other.',
      'Arm, horn, rod and distance make the exact throw for each degree of servo.',
    ],
    sketch: fourBar,
    source: 'F. Freudenstein, Transactions of the ASME 77, 1955',
  },
  servo_direction: {
    title: 'Direction',
    body: [
      'Whether a longer pulse pulls the rod, because the servo lies the other way round or the channel is reversed.',
      'Raise the pulse by hand and look.',
      'The bench table needs it to say which pulse goes with which throw.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  squareness: {
    title: 'Squareness of the tail',
    body: [
      'Whether both tail tips are as far from the wing, and as high, left and right.',
      'Run a thread from each tail tip to the same point of the wing.',
      'A crooked tail is felt as a roll or a yaw that no trim cures on every line.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  thrust_line: {
    title: 'Side and down thrust',
    body: [
      'Angle of the motor shaft to the body, right and down positive.',
      'Hold a long rule against the propeller disc and measure its tips to the tail.',
      'Thrust trims away on up lines and comes back on down lines.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  slop: {
    title: 'Play',
    body: [
      'How far the aileron moves before the servo feels it, from end to end.',
      'Hold the arm, wiggle the trailing edge, read the gauge.',
      'Play shows at the aileron as a roll that will not settle.',
    ],
    sketch: throwGauge,
    source: 'common practice, no source',
  },
  blade_track: {
    title: 'Track of the blades',
    body: [
      'How far the two blade tips miss each other when turned to the same place.',
      'Set a fixed point at one tip and turn by hand, battery out.',
      'Out of track, the braked propeller shakes the plane.',
    ],
    sketch: null,
    source: 'common practice, no source',
  },
  arm_offset: {
    title: 'Arm offset',
    body: [
      'The arm stands a few teeth off square with the surface at neutral.',
      'Crow moves the arm off neutral; set so that stowed and deployed are mirror images about square, the throw for each degree of servo stays the same.',
      'Without it the roll gets weaker or stronger as crow comes out, and travel runs out on one side.',
    ],
    sketch: armSquare,
    source: 'computed by Evenfall from the exact linkage',
  },
  crow: {
    title: 'Crow',
    body: [
      'Ailerons of both wings deployed together as an air brake.',
      'Which way each wing’s go is chosen: upper up and lower down, the other way, or both alike. Opposed, their lift cancels and drag stays.',
      'It works at every speed and every battery, unlike the motor brake.',
    ],
    sketch: staggerGap,
    source: 'L. Prandtl, Induced drag of multiplanes, NACA TN 182, 1924',
  },
  deployment: {
    title: 'Deployment and threshold',
    body: [
      'How far crow is out for each position of the throttle stick: all the way at the closed end, stowed from the threshold up.',
      'Move a point of the curve; it must never rise with the stick.',
      'The threshold lies below the stick of level flight, so that crow never comes out in level flight.',
    ],
    sketch: deployment,
    source: 'computed by Evenfall',
  },
  holding_stick: {
    title: 'Holding stick',
    body: [
      'The stick at which a line of one slope is flown at the wanted speed.',
      'Read it off the curve, or note it in flight and compare.',
      'It should fall smoothly from the climb to the vertical, without a step.',
    ],
    sketch: holdingStick,
    source: 'computed by Evenfall',
  },
  fold: {
    title: 'Two propeller speeds',
    body: [
      'At some levels of the motor brake the propeller can turn fast or nearly stand, at the same air speed.',
      'Which one a dive falls into depends on the speed it began with.',
      'Choose a level outside the band between the two folds.',
    ],
    sketch: fold,
    source: 'computed by Evenfall; see the shaft picture',
  },
  stagger: {
    title: 'Stagger',
    body: [
      'How far the upper wing’s quarter chord stands ahead of the lower one’s.',
      'It follows from the leading edges and chords.',
      'Opposed crow turns it into a pitching moment, which the elevator has to take.',
    ],
    sketch: staggerGap,
    source: 'computed by Evenfall',
  },
  static_margin: {
    title: 'Static margin',
    body: [
      'How far the CG lies ahead of the neutral point, in parts of the mean chord.',
      'Move the battery to change it.',
      'Without margin the plane does not hold a line by itself. The body is left out, so the true margin is a few percent less.',
    ],
    sketch: cgHang,
    source: 'C. D. Perkins and R. E. Hage, Airplane Performance, Stability and Control, 1949',
  },
}
