// Made from schema.json by `npm run types`: not edited by hand.

export interface Pages {}
/**
 * The air to compute in.
 */
export interface AirAsk {
  /**
   * Height of the field.
   */
  elevation_m?: number
  /**
   * At the field. Null: standard.
   */
  pressure_hpa?: number | null
  /**
   * Null: standard.
   */
  temperature_c?: number | null
}
/**
 * The air a page was computed for.
 */
export interface AirPage {
  /**
   * Density.
   */
  density_kg_m3: number
  /**
   * Pressure at the field.
   */
  pressure_hpa: number
  /**
   * Temperature, degrees Celsius.
   */
  temperature_c: number
}
/**
 * The air of the day.
 */
export interface AirPart {
  /**
   * Of the field.
   */
  elevation_m?: number | null
  /**
   * At the field itself.
   */
  pressure_hpa?: number | null
  /**
   * At the field.
   */
  temperature_c?: number | null
  /**
   * Mean wind at flying height.
   */
  wind_m_s?: number | null
}
/**
 * One answer of the plane, on both.
 */
export interface AnswerPage {
  /**
   * On the first plane, with unit.
   */
  first: string
  /**
   * The same, within what can be set.
   */
  met: boolean
  /**
   * On the other, with unit.
   */
  other: string
  /**
   * What answers to what.
   */
  what: string
}
/**
 * One aileron's arm, rod and horn. Angles of the arm from square to its rod, pushing (pin aft) positive.
 */
export interface ArmPage {
  /**
   * Hole of the servo arm, radius.
   */
  arm_mm: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The arm stands on the side away from the horn.
   */
  crossed: boolean
  /**
   * Arm with crow fully out.
   */
  crow_deg: number
  /**
   * Surface with crow fully out, trailing edge down positive.
   */
  crow_surface_deg: number
  /**
   * Servo axis to hinge line along the chord.
   */
  distance_mm: number
  /**
   * Servo axis beyond the hinge line towards the horn's side.
   */
  height_mm: number
  /**
   * The horn stands on the upper side.
   */
  horn_above: boolean
  /**
   * Hole of the horn, hinge line to pin.
   */
  horn_mm: number
  /**
   * Servo turn left to these ends, trim included.
   *
   * @minItems 2
   * @maxItems 2
   */
  left_deg: [number, number]
  /**
   * What ends it there.
   *
   * @minItems 2
   * @maxItems 2
   */
  limit_words: [string, string]
  /**
   * Where the travel ends.
   *
   * @minItems 2
   * @maxItems 2
   */
  limits_deg: [number, number]
  /**
   * Arm with the surface at neutral.
   */
  offset_deg: number
  /**
   * Which arm of the servo horn carries the rod; null as above.
   */
  rod_on_arm: number | null
  /**
   * Horn pin aft of the hinge line with the surface at neutral.
   */
  setback_mm: number
  /**
   * What makes that shift; empty as above.
   */
  shift_by: string
  /**
   * Neutral pulse less centre pulse; null as above.
   */
  shift_us: number | null
  /**
   * Arm square to its rod, from the chord's normal, pin aft positive.
   */
  square_deg: number
  /**
   * Least and greatest arm angle of any phase.
   *
   * @minItems 2
   * @maxItems 2
   */
  sweep_deg: [number, number]
  /**
   * Teeth from square, pushing positive; null where the plan does not say.
   */
  teeth: number | null
}
/**
 * Compute something; changes nothing.
 */
export interface Ask {
  air?: AirAsk
  /**
   * map: another arrangement than the plan's.
   */
  arrangement?: string | null
  /**
   * Changes of the plan not saved yet.
   */
  changes?: PlanChanges | null
  /**
   * Asks of one channel replace each other; empty is the topic.
   */
  channel?: string
  /**
   * clicked: the places as clicked so far.
   */
  clicked?: ClickedPart | null
  /**
   * log: column to what it holds.
   */
  columns?: {
    [k: string]: string
  }
  /**
   * log: lines from and to these times instead of those found.
   */
  cuts?: [number, number][]
  /**
   * Plane keys not saved yet, dotted path.
   */
  edits?: {
    [k: string]: boolean | number | string | [number, number] | null
  }
  /**
   * march: entry speed; null: wanted.
   */
  entry_m_s?: number | null
  /**
   * flight: which one of the record.
   */
  flight?: string | null
  /**
   * stick: flown inverted.
   */
  inverted?: boolean
  kind: 'ask'
  /**
   * march: which of the five lines.
   */
  line?: string
  /**
   * log, sound: a file that was sent in.
   */
  original?: string | null
  /**
   * compare, fly: the second side.
   */
  other?: Other | null
  /**
   * Plan file; null is the plane as it is now.
   */
  plan?: string | null
  /**
   * Plane file in the folder.
   */
  plane: string
  /**
   * sheet: a sequence flown in calm on a further page; null: none.
   */
  programme?: string | null
  /**
   * Counts up in one connection; the answer repeats it.
   */
  seq: number
  /**
   * fly, programme: eight, seventeen or a NAME.seq.toml of the folder.
   */
  sequence?: string
  /**
   * diagnose: keys of the signs seen.
   */
  signs?: string[]
  /**
   * sound: what was heard and which part counts.
   */
  sound?: SoundPart | null
  /**
   * carry: plane file the plan is taken to; may be the same.
   */
  to?: string | null
  /**
   * What is asked.
   */
  topic:
    | 'plane'
    | 'plan'
    | 'quick'
    | 'predict'
    | 'tune'
    | 'map'
    | 'shaft'
    | 'stick'
    | 'march'
    | 'kinematics'
    | 'bench'
    | 'rig'
    | 'sheet'
    | 'compare'
    | 'season'
    | 'flight'
    | 'learn'
    | 'diagnose'
    | 'card'
    | 'log'
    | 'sound'
    | 'clicked'
    | 'fly'
    | 'carry'
    | 'programme'
  /**
   * carry: keys of that plane changed for the occasion, dotted path.
   */
  what_if?: {
    [k: string]: boolean | number | string | [number, number] | null
  }
  /**
   * fly: mean wind 6 m above the ground, gusty.
   */
  wind_m_s?: number
  /**
   * fly: where it blows; 0 to the right as judged, 90 away.
   */
  wind_towards_deg?: number
  /**
   * programme: mean winds tried, calm in any case.
   */
  winds_m_s?: number[]
  /**
   * kinematics, rig: arms square to their rods.
   */
  without_offset?: boolean
}
/**
 * Changes of a plan; what is null stays.
 */
export interface PlanChanges {
  /**
   * The larger of the two wings' angles; the other keeps its share.
   */
  angle_deg?: number | null
  arrangement?: ('up/down' | 'down/up' | 'both up' | 'both down') | null
  corners?: {
    [k: string]: CornerChanges
  }
  /**
   * False takes crow away, true gives it back.
   */
  crow?: boolean | null
  curve?: [number, number][] | null
  elevator_share?: number | null
  /**
   * Motor-brake level.
   */
  level?: string | null
  lower_deg?: number | null
  phases?: {
    [k: string]: PhaseChanges
  }
  /**
   * Stretches the curve to a new threshold.
   */
  threshold_percent?: number | null
  throttle_curve?: [number, number][] | null
  upper_deg?: number | null
}
/**
 * Changes of how one aileron is fitted.
 */
export interface CornerChanges {
  arm?: number | null
  arm_hole_mm?: number | null
  horn_hole_mm?: number | null
  shift_us?: number | null
  teeth?: number | null
}
/**
 * Changes of one phase.
 */
export interface PhaseChanges {
  aileron_deg?: number | null
  aileron_exponential_percent?: number | null
  crow_live?: boolean | null
  elevator_deg?: number | null
  elevator_exponential_percent?: number | null
  roll_boost_percent?: number | null
  rudder_deg?: number | null
  rudder_exponential_percent?: number | null
}
/**
 * A line clicked frame by frame in the pilot's own video.
 */
export interface ClickedPart {
  /**
   * Camera looks up so far, for the horizon.
   */
  camera_elevation_deg?: number | null
  /**
   * Places in order of time.
   */
  clicks: Click[]
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * From the camera over ground to the line.
   */
  distance_m?: number | null
  /**
   * Across the width of the frame.
   */
  field_of_view_deg?: number | null
  /**
   * Name of the video, for the record; it is not kept.
   */
  file: string
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Height of the frame.
   */
  height_px: number
  /**
   * Height of the camera's horizon in the frame.
   */
  horizon_y_px?: number | null
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Between the two markers.
   */
  markers_apart_m?: number | null
  /**
   * From the camera to the markers.
   */
  markers_distance_m?: number | null
  /**
   * x, y, x, y of two markers.
   */
  markers_px?: [number, number, number, number] | null
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Its real length, for example the wing's span.
   */
  span_m?: number | null
  /**
   * Length in the frame of something known on the line.
   */
  span_px?: number | null
  /**
   * From the top edge to where the span was measured.
   */
  span_y_px?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * Width of the frame.
   */
  width_px: number
}
/**
 * The plane's place in one frame.
 */
export interface Click {
  /**
   * Time of the frame in the video.
   */
  t_s: number
  /**
   * From the left edge of the frame.
   */
  x_px: number
  /**
   * From the top edge of the frame.
   */
  y_px: number
}
/**
 * The second side of a comparison.
 */
export interface Other {
  /**
   * Plan file; null is the plane as it is now.
   */
  plan?: string | null
  /**
   * Plane file.
   */
  plane: string
}
/**
 * Sound of a propeller.
 */
export interface SoundPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * Of a guarded disc; null: the propeller's own.
   */
  disc_inertia_g_cm2?: number | null
  /**
   * Name of the WAV file in the record.
   */
  file: string
  /**
   * Start of the part that counts.
   */
  from_s?: number | null
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Air speed at that time; null: from the line.
   */
  speed_m_s?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * End of it.
   */
  to_s?: number | null
  /**
   * What was heard.
   */
  what: 'line' | 'pass' | 'spin-down'
}
/**
 * The pack before and after.
 */
export interface BatteryPart {
  /**
   * At rest after it.
   */
  after_v?: number | null
  /**
   * At rest before the flight.
   */
  before_v?: number | null
  /**
   * Charged back, or counted.
   */
  used_mah?: number | null
}
/**
 * A check on the bench or at the field that separates causes.
 */
export interface BenchCheckPage {
  /**
   * What is seen if it is not.
   */
  if_not: string
  /**
   * What is seen if it is this cause.
   */
  if_so: string
  /**
   * How long it takes, minutes. Common practice, no source.
   */
  minutes: number
  /**
   * What to measure, how.
   */
  words: string
}
/**
 * Answer of `bench`.
 */
export interface BenchPage {
  /**
   * Before anything is switched on.
   */
  cautions: string[]
  /**
   * How every aileron is fitted and which way it goes.
   */
  corners: FittedPage[]
  /**
   * Where the tolerance comes from and what an error costs.
   */
  error_costs: string
  /**
   * Throttle ends, closed band, motor brake, switches: in order.
   */
  motor: string[]
  /**
   * What the list had to assume.
   */
  notes: string[]
  /**
   * What must be shown, phase by phase.
   */
  phases: BenchPhasePage[]
  /**
   * Which plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * What the readings say; null without readings.
   */
  proof: ProofPage | null
  /**
   * How sides and signs are meant.
   */
  view: string
}
/**
 * How one corner is fitted and which way it goes.
 */
export interface FittedPage {
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * Holes, teeth and offset of the arm; empty where the plan does not say.
   */
  fitted: string
  /**
   * Which way it goes with stick, crow and pulse.
   */
  signs: string[]
}
/**
 * One phase of the list.
 */
export interface BenchPhasePage {
  /**
   * Whether the throttle stick moves crow.
   */
  crow_live: boolean
  /**
   * As the plan calls it.
   */
  name: string
  /**
   * Positions in the order of checking.
   */
  positions: PositionPage[]
  /**
   * An earlier phase whose ailerons and crow do the same; null if none.
   */
  same_as: string | null
}
/**
 * One position of the sticks.
 */
export interface PositionPage {
  /**
   * Aileron stick, -100 left to 100 right.
   */
  aileron_percent: number
  /**
   * What each aileron must show, trailing edge down positive.
   */
  angle_deg: {
    [k: string]: number
  }
  /**
   * Ailerons whose travel ends before this position.
   */
  at_limit: string[]
  /**
   * How far crow is out, 0 to 100.
   */
  crow_out_percent: number
  /**
   * What the elevator must show; null where it is not looked at.
   */
  elevator_deg: number | null
  /**
   * Elevator stick, -100 pushed to 100 pulled.
   */
  elevator_percent: number
  /**
   * The position in words.
   */
  position: string
  /**
   * Pulse each servo gets; empty without servos in the plane file.
   */
  pulse_us: {
    [k: string]: number
  }
  /**
   * Throttle stick, 0 closed to 100 full.
   */
  throttle_percent: number
  /**
   * How far the mean of two readings may be from it.
   */
  within_deg: number
}
/**
 * What the readings say about the plane.
 */
export interface ProofPage {
  /**
   * Every measured aileron.
   */
  corners: CornerProofPage[]
  /**
   * What must not fly, one sentence each, worst first.
   */
  do_not_fly: string[]
  /**
   * The elevator; null where it was not measured.
   */
  elevator: ElevatorPage | null
  /**
   * Everything was measured and is good enough.
   */
  good: boolean
  /**
   * What counts as good enough.
   */
  good_enough_when: string
  /**
   * Aileron stick that holds what crow rolls by itself, right roll positive; null where not known.
   */
  lean_percent: number | null
  /**
   * One sigma of it.
   */
  lean_spread_percent: number
  /**
   * Ailerons without readings.
   */
  missing: string[]
  /**
   * What the readings cannot show, and readings left out.
   */
  notes: string[]
  /**
   * Every reading against the list.
   */
  readings: ReadingPage[]
  /**
   * Change of the plane's roll throw with crow out.
   */
  roll_percent: number
  /**
   * The whole in one or two sentences.
   */
  verdict: string
}
/**
 * What the readings say about one aileron.
 */
export interface CornerProofPage {
  /**
   * Neutral off by, at the surface.
   */
  centre_deg: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The fault exactly, or as planned.
   */
  fault: string
  /**
   * Its kind, one of the keys of probability.
   */
  fault_kind: string
  /**
   * Servo turn against planned, 1 as planned.
   */
  gain: number
  /**
   * Whether the readings fix centre, gain, offset and play; else the value rests on the plan.
   *
   * @minItems 4
   * @maxItems 4
   */
  measured: [boolean, boolean, boolean, boolean]
  /**
   * Arm offset against planned, degrees of arm.
   */
  offset_deg: number
  /**
   * Probability of every kind of fault, 0 to 1.
   */
  probability: {
    [k: string]: number
  }
  /**
   * Pulse to add at neutral to centre the surface, microseconds.
   */
  pulse_us: number
  /**
   * What to do; empty where nothing.
   */
  remedy: string
  /**
   * Change of its roll throw with crow out.
   */
  roll_cost_percent: number
  /**
   * Play at the trailing edge, degrees peak to peak.
   */
  slop_deg: number
  /**
   * One sigma of centre (degrees), gain, offset (degrees) and play (degrees).
   *
   * @minItems 4
   * @maxItems 4
   */
  spread: [number, number, number, number]
  /**
   * How sure the fault is, in words with a space before; empty where not weighed.
   */
  sure: string
  /**
   * Teeth to turn the arm on its spline, pushing positive.
   */
  teeth: number
  /**
   * What it is and what it costs.
   */
  text: string
  /**
   * "good enough", "put right" or "DO NOT FLY".
   */
  verdict: string
}
/**
 * The elevator's share with crow.
 */
export interface ElevatorPage {
  /**
   * It moves the wrong way.
   */
  do_not_fly: boolean
  /**
   * Good enough.
   */
  good: boolean
  /**
   * As measured; null where not measured with crow in and out.
   */
  got_deg: number | null
  /**
   * In words.
   */
  text: string
  /**
   * Change from crow in to crow out.
   */
  wanted_deg: number
}
/**
 * One reading against the list.
 */
export interface ReadingPage {
  /**
   * Aileron stick, right positive.
   */
  aileron_percent: number
  /**
   * Line of the file.
   */
  line: number | null
  /**
   * Phase.
   */
  phase: string
  /**
   * As read.
   */
  read_deg: number
  /**
   * What was measured.
   */
  surface: string
  /**
   * Throttle stick.
   */
  throttle_percent: number
  /**
   * What the list wants.
   */
  wanted_deg: number
  /**
   * Within the tolerance of the mean of two readings.
   */
  within: boolean
}
/**
 * Measured angles of one bench position; null takes a reading away.
 */
export interface BenchRead {
  aileron_percent: number
  angles_deg: {
    [k: string]: number | null
  }
  elevator_percent?: number
  phase: string
  plan: string
  plane: string
  throttle_percent: number
  what: 'bench.read'
}
/**
 * Stop working on an ask.
 */
export interface Cancel {
  channel: string
  kind: 'cancel'
}
/**
 * One motor-brake level with one arrangement.
 */
export interface CandidatePage {
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * The level on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Size of the crow with its spread, degrees; null without a speed.
   */
  crow: Spreading | null
  crow_deg: CrowAngles
  /**
   * Bend of the vertical added by crow before any cure.
   */
  curvature_deg_s: number | null
  /**
   * Vertical down speed with this crow.
   */
  down_speed_m_s: number | null
  /**
   * Chance that doubt of the brake puts this level among two shaft states.
   */
  fold_probability: number
  /**
   * Name of the level.
   */
  level: string
  /**
   * Distance to the nearest fold, percent of brake; null where there is none.
   */
  margin: number | null
  /**
   * One sigma of the margin, percent of brake; null without one.
   */
  margin_spread: number | null
  /**
   * Change of down speed for 5 percent more brake.
   */
  per_5_brake_m_s: number | null
  /**
   * Change of down speed for one more degree of crow.
   */
  per_degree_m_s: number | null
  /**
   * Speed with most and with no crow.
   */
  reach_m_s: [number, number] | null
  /**
   * Section part of roll retention at normal throw.
   */
  roll_retention: number | null
  /**
   * Stable shaft states at the wanted speed.
   */
  shaft_states: number
  /**
   * Down speed with its spread, m/s; null without one.
   */
  speed: Spreading | null
  /**
   * Where it stands.
   */
  verdict: 'chosen' | 'usable' | 'fickle' | 'refused'
  /**
   * The reason in words.
   */
  why: string
}
/**
 * A number with its spread.
 */
export interface Spreading {
  /**
   * The largest causes of the spread, largest first.
   */
  causes?: Cause[]
  /**
   * One sigma in the same unit; null where it was not computed.
   */
  spread: number | null
  /**
   * Best estimate, in the unit of the key that holds it.
   */
  value: number
}
/**
 * One cause of a spread.
 */
export interface Cause {
  /**
   * What measuring it would buy.
   */
  buys?: string | null
  /**
   * The uncertain input, in the pilot's words.
   */
  name: string
  /**
   * Its share of the variance, 0 to 1.
   */
  share: number
}
/**
 * Angles fully deployed, degrees, trailing edge down positive; null where the wing has no ailerons.
 */
export interface CrowAngles {
  /**
   * Lower wing.
   */
  lower: number | null
  /**
   * Upper wing.
   */
  upper: number | null
}
/**
 * The card for a contest day: one screen, nothing to compute.
 */
export interface CardPage {
  /**
   * Today's air in words.
   */
  air: string
  /**
   * What can hurt.
   */
  cautions: string[]
  /**
   * Change this, or that nothing is to be changed.
   */
  change: string
  /**
   * Half a minute of surfaces, phase by phase.
   */
  checks: CardRowPage[]
  /**
   * Date of the card.
   */
  date: string
  /**
   * What the plan is called.
   */
  plan: string
  /**
   * First twelve digits of its hash.
   */
  plan_hash: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * What the lines do in this air.
   */
  speeds: string[]
  /**
   * tuned, edited, frozen, proven, in words.
   */
  state: string
}
/**
 * What a surface must show at one stick position of a phase.
 */
export interface CardRowPage {
  /**
   * What to do with stick or switch.
   */
  do: string
  /**
   * Phase.
   */
  phase: string
  /**
   * What must be seen.
   */
  see: string
}
/**
 * One correction on its way.
 */
export interface CarriedPage {
  /**
   * airframe or power train.
   */
  belongs: string
  /**
   * False: begins as before any flight.
   */
  carried: boolean
  /**
   * Factor to begin with on the other.
   */
  factor: number
  /**
   * Factor learned on the first plane.
   */
  first: number
  /**
   * One sigma higher.
   */
  high: number
  /**
   * One sigma lower.
   */
  low: number
  /**
   * In words.
   */
  name: string
  /**
   * Why so much.
   */
  reason: string
  /**
   * How much of it both planes share, percent. Common practice, no source.
   */
  share_percent: number
}
/**
 * A plan carried to another plane.
 */
export interface CarryPage {
  /**
   * What was matched.
   */
  answers: AnswerPage[]
  /**
   * The same, had nothing been carried.
   */
  before_m_s: Spreading | null
  /**
   * Every correction and how much of it came along.
   */
  carried: CarriedPage[]
  /**
   * Vertical down of the other with its new plan, stick closed.
   */
  down_m_s: Spreading | null
  /**
   * Corrections were learned on the first plane.
   */
  flights: boolean
  /**
   * What must be flown first, in this order.
   */
  fly_first: FlyFirstPage[]
  /**
   * Margins of both in words.
   */
  margins: string[]
  /**
   * Why the wanted speed is not reached; empty where it is.
   */
  missing?: string
  /**
   * What to know.
   */
  notes: string[]
  /**
   * The plane it is carried to.
   */
  other: string
  /**
   * Its plan.
   */
  plan: string
  /**
   * The plane it comes from.
   */
  plane: string
  /**
   * The other plane has a plan.
   */
  possible: boolean
  /**
   * Settings of both plans where they differ.
   */
  settings: DiffRow[]
  /**
   * Tests that the change of parts voids.
   */
  voids?: string[]
  /**
   * The wanted speed, the first plane's.
   */
  wanted_m_s: number
  /**
   * The answer in a few sentences.
   */
  words: string
}
/**
 * What must be flown first on the other plane.
 */
export interface FlyFirstPage {
  /**
   * What to fly.
   */
  what: string
  /**
   * What still hangs on it.
   */
  why: string
}
/**
 * One setting that differs.
 */
export interface DiffRow {
  /**
   * Here, rounded as on the bench.
   */
  mine: string
  /**
   * There.
   */
  other: string
  /**
   * The setting in words.
   */
  what: string
}
/**
 * One possible cause.
 */
export interface CausePage {
  check: BenchCheckPage
  /**
   * Short name of the cause.
   */
  key: string
  /**
   * 0 to 1, of all causes together.
   */
  probability: number
  /**
   * Engine, a published source, or common practice, no source.
   */
  source: string
  /**
   * Which signs speak for and against it.
   */
  why: string
  /**
   * In words.
   */
  words: string
}
/**
 * The one change for the next flight, or the reason for none.
 */
export interface ChangePage {
  /**
   * Which line confirms it, how it is measured, what must be seen.
   */
  check: string
  /**
   * What it does to each target.
   */
  effects: EffectPage[]
  /**
   * The limit that stands in the way and what would buy more; else empty.
   */
  limit?: string
  /**
   * True where nothing is to be changed.
   */
  none: boolean
  /**
   * The change in the pilot's own steps; or that nothing is changed.
   */
  what: string
  /**
   * Reason in a sentence or two.
   */
  why: string
}
/**
 * One target and what a change does to it.
 */
export interface EffectPage {
  /**
   * After the change, with unit and spread.
   */
  after: string
  /**
   * Now, with unit and spread.
   */
  now: string
  /**
   * What is aimed at, in words.
   */
  target: string
  /**
   * What is wanted.
   */
  wanted: string
}
/**
 * Write the next change that the flights call for into the plan.
 */
export interface ChangeTake {
  plan: string
  plane: string
  what: 'change.take'
}
/**
 * The chosen level and crow on the map.
 */
export interface ChosenPage {
  /**
   * Motor brake that holds like it: its percent unless it was measured.
   */
  brake_percent: number
  /**
   * Motor brake within one sigma of its torque.
   *
   * @minItems 2
   * @maxItems 2
   */
  brake_range_percent: [number, number]
  /**
   * Crow fully deployed.
   */
  crow_deg: number
  /**
   * Crow that changes the drag by one sigma of its doubt (crow, body and parts, propeller).
   *
   * @minItems 2
   * @maxItems 2
   */
  crow_range_deg: [number, number]
  /**
   * Name of the level.
   */
  level: string
  /**
   * Stable down speed nearest to the wanted one; null without one.
   */
  speed_m_s: number | null
  /**
   * One sigma of it; null where it was not computed.
   */
  spread_m_s: number | null
  /**
   * Every steady speed there.
   */
  states: MapState[]
}
/**
 * One steady speed of a condition.
 */
export interface MapState {
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  /**
   * Down speed.
   */
  speed_m_s: number
  /**
   * True where speed and shaft speed return after a disturbance.
   */
  stable: boolean
  /**
   * Thrust; negative where the propeller brakes.
   */
  thrust_n: number
}
/**
 * Clicked places as a way along the line.
 */
export interface ClickedPage {
  /**
   * One sigma of each.
   */
  sigma_m: number
  /**
   * Slope as seen, climbing positive.
   */
  slope_deg: number
  /**
   * Speed at the first and last click.
   *
   * @minItems 2
   * @maxItems 2
   */
  speed_m_s: [number, number]
  /**
   * Times from the first click.
   */
  time_s: number[]
  /**
   * Way along the line.
   */
  way_m: number[]
  /**
   * What to know: scale, doubt, what to improve.
   */
  words: string
}
/**
 * A column of a recording.
 */
export interface ColumnPage {
  /**
   * What it is taken for; empty where it is not used.
   */
  holds: string
  /**
   * As the file calls it.
   */
  name: string
  /**
   * A few of its values.
   */
  sample: string
  /**
   * In which unit; empty where it has none.
   */
  unit: string
}
/**
 * Answer of topic `compare`.
 */
export interface ComparePage {
  /**
   * Speeds, sticks and rolls that differ, with their difference.
   */
  behaviour: DiffRow[]
  mine: QuickPage
  other: QuickPage
  /**
   * Facts of the planes that differ; empty for one plane.
   */
  plane: DiffRow[]
  /**
   * Settings that differ.
   */
  settings: DiffRow[]
}
/**
 * Answer of topic `quick`.
 */
export interface QuickPage {
  /**
   * Motor brake that holds like the level: its percent unless measured.
   */
  brake_percent: number
  /**
   * Force gained where the motor comes free of the closed band.
   */
  brake_step_n: number
  /**
   * End of the closed band.
   */
  closed_below_percent: number
  /**
   * Size of the crow, degrees; 0 without.
   */
  crow_deg: number
  /**
   * Air.
   */
  density_kg_m3: number
  /**
   * The five lines, vertical down first.
   */
  lines: QuickLine[]
  /**
   * What is flown.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Stick at which the motor starts again.
   */
  start_percent: number
  /**
   * Stick where deployment begins; null without crow.
   */
  threshold_percent: number | null
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * Holding stick over slope.
   */
  with_crow: StickPoint[]
  /**
   * The same plan without crow.
   */
  without_crow: StickPoint[]
  /**
   * What to watch, in words.
   */
  words: string[]
}
/**
 * One line of a plan, without spreads.
 */
export interface QuickLine {
  /**
   * What stands in the way, in words; empty where nothing.
   */
  remark: string
  shares: LineShares
  /**
   * Every steady state at that stick, slowest first.
   */
  states: MapState[]
}
/**
 * Who holds against the flight on one line.
 */
export interface LineShares {
  /**
   * The line.
   */
  name: string
  /**
   * Airframe, crow and propeller; null without a steady speed.
   */
  shares_n: DragShares | null
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * Steady speed most entries end in; null without one.
   */
  speed_m_s: number | null
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * Stick it is flown with.
   */
  stick_percent: number
  /**
   * Weight along the path, pulling down the line positive.
   */
  weight_along_n: number
}
/**
 * Forces against the flight on a steady line, N.
 */
export interface DragShares {
  /**
   * Clean aeroplane.
   */
  airframe: number
  /**
   * Added by deployment.
   */
  crow: number
  /**
   * Propeller; negative where it pulls.
   */
  propeller: number
}
/**
 * Holding stick at one slope.
 */
export interface StickPoint {
  /**
   * Deployment at that stick.
   */
  deployment_percent: number
  /**
   * Force along the path left over there; null where stalled.
   */
  left_over_n: number | null
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * Stick, or the nearest end where no stick holds the wanted speed.
   */
  stick_percent: number
}
/**
 * The line of one down speed.
 */
export interface ContourPage {
  /**
   * Pieces of points: motor brake percent, crow degrees. They end where a propeller state ends and may pass the edges of the map a little.
   */
  pieces: [number, number][][]
  /**
   * The down speed.
   */
  speed_m_s: number
}
/**
 * What one corner keeps with crow out.
 */
export interface CornerOut {
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * Roll throw deployed over stowed at equal stick, normal phase.
   */
  kept_normal: number | null
  /**
   * The same at snap throw.
   */
  kept_snap: number | null
  /**
   * Least servo turn left in any phase; negative where it breaks.
   */
  left_deg: number
  /**
   * Arm offset.
   */
  offset_deg: number
  /**
   * Largest torque over stall torque; null if unknown.
   */
  servo_load: number | null
  /**
   * Phase and limit where that is.
   */
  tightest: string
}
/**
 * One aileron: how it is fitted, what it does, what is set.
 */
export interface CornerPage {
  /**
   * Centre shift of the channel, percent of its travel.
   */
  centre_shift_percent: number | null
  /**
   * Wing and side as seen from behind.
   */
  corner: string
  /**
   * Angle fully deployed, degrees, trailing edge down positive.
   */
  crow_deg: number
  /**
   * Share of the travel at each point of the deployment curve.
   */
  crow_percent: number[]
  /**
   * End limits, us.
   */
  ends_us: [number, number] | null
  /**
   * Holes, teeth, pulse shift and offset in words; empty where the plan says nothing.
   */
  fit: string
  /**
   * Pulse with the surface at neutral, us.
   */
  neutral_us: number | null
  /**
   * Coarsest step of the surface for one step of the pulse, degrees.
   */
  resolution_deg: number
  /**
   * Roll throw deployed over stowed at the same stick, normal throw.
   */
  roll_kept: number
  /**
   * Share of the travel at full right stick, by phase.
   */
  roll_percent: {
    [k: string]: number
  }
  /**
   * Largest torque over stall torque, supply sagged; null if unknown.
   */
  servo_load: number | null
  /**
   * One sigma of the load; null if unknown.
   */
  servo_load_spread: number | null
  /**
   * Which way it goes with the stick, with crow, with a longer pulse.
   */
  signs: string[]
  /**
   * Phase and limit where that is.
   */
  tightest: string
  /**
   * Least servo turn left in any phase, degrees; negative where it breaks.
   */
  travel_left_deg: number
}
/**
 * One correction: a factor on a part of the physics.
 */
export interface CorrectionPage {
  /**
   * One sigma higher before these flights.
   */
  before_high: number
  /**
   * One sigma lower before these flights.
   */
  before_low: number
  /**
   * Most likely factor; 1 is the prediction before flights.
   */
  factor: number
  /**
   * Factor one sigma higher.
   */
  high: number
  /**
   * Name of the correction; another motor-brake level's is key:LEVEL.
   */
  key: string
  /**
   * Factor one sigma lower.
   */
  low: number
  /**
   * In the pilot's words.
   */
  name: string
  /**
   * These flights have said something about it.
   */
  told: boolean
  /**
   * What that means, in a sentence.
   */
  words: string
}
/**
 * Crow as in the plan file.
 */
export interface CrowPage {
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * Points: stick percent, deployment percent.
   */
  curve: [number, number][]
  /**
   * Elevator angle over crow angle, trailing edge down positive.
   */
  elevator_share: number
  /**
   * Lower wing fully deployed, trailing edge down positive.
   */
  lower_deg: number | null
  /**
   * Stick where deployment begins.
   */
  threshold_percent: number
  /**
   * Upper wing fully deployed, trailing edge down positive.
   */
  upper_deg: number | null
}
/**
 * A line of a recorded flight, confirmed by the pilot.
 */
export interface CutPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * Start, in the recording's own time.
   */
  from_s: number
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * End.
   */
  to_s: number
}
/**
 * Ranked causes of what was seen.
 */
export interface DiagnosePage {
  /**
   * Every sign that can be named.
   */
  all_signs: SignPage[]
  /**
   * Most likely first; those below one percent left out.
   */
  causes: CausePage[]
  /**
   * What to check first, and why.
   */
  first: string
  /**
   * Probability that it is none of these.
   */
  other: number
  /**
   * What the plan is called.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * The signs that were named.
   */
  signs: string[]
}
/**
 * Something a pilot may have seen.
 */
export interface SignPage {
  /**
   * Where it belongs: speed, straightness, roll, motor, figures.
   */
  group: string
  /**
   * Short name of the sign.
   */
  key: string
  /**
   * In the pilot's words.
   */
  words: string
}
/**
 * Change something.
 */
export interface Do {
  action:
    | PlaneSet
    | TextSet
    | PartAdd
    | PartDrop
    | PlanSet
    | PlanTune
    | PlanCarry
    | PlanProgramme
    | PlanFreeze
    | PlanThaw
    | PlaneNew
    | Undo
    | Redo
    | BenchRead
    | FlightSave
    | FlightRemove
    | FlightRestore
    | PartReplaced
    | TestDone
    | TestOpen
    | ChangeTake
    | PlanProve
  kind: 'do'
  seq: number
  /**
   * New for every action, kept on retry
   */
  token: string
}
/**
 * Write values into a plane file; comments are kept.
 */
export interface PlaneSet {
  edits: {
    [k: string]: boolean | number | string | [number, number] | null
  }
  file: string
  what: 'plane.set'
}
/**
 * Replace a whole plane or plan file by a text.
 */
export interface TextSet {
  /**
   * Revision the text was made from; refused where the file has moved on.
   */
  base: number
  file: string
  text: string
  what: 'text.set'
}
/**
 * Add a part that drags, or take the one at `index` away.
 */
export interface PartAdd {
  file: string
  part: 'wheel' | 'wire' | 'strut' | 'cowl opening' | 'area'
  what: 'part.add'
}
/**
 * Take away the part at `index` of the file's drag tables.
 */
export interface PartDrop {
  file: string
  index: number
  what: 'part.drop'
}
/**
 * Change a plan file.
 */
export interface PlanSet {
  changes: PlanChanges
  file: string
  plane: string
  what: 'plan.set'
}
/**
 * Compute the plan and write it; a candidate of the ranking may be chosen instead of the best.
 */
export interface PlanTune {
  air?: AirAsk
  arrangement?: string | null
  /**
   * Null: the plane's own plan file.
   */
  file?: string | null
  level?: string | null
  plane: string
  what: 'plan.tune'
}
/**
 * Take a plan along to another plane and write it as that one's own plan, or as a new plane with its plan.
 */
export interface PlanCarry {
  air?: AirAsk
  /**
   * Name of a new plane: `to` with the keys of `what_if`; null: `to` itself.
   */
  name?: string | null
  plan: string
  plane: string
  /**
   * Plane file it is taken to.
   */
  to: string
  what: 'plan.carry'
  /**
   * Of a new plane only.
   */
  what_if?: {
    [k: string]: boolean | number | string | [number, number] | null
  }
}
/**
 * Tune for a whole programme and write the evenest plan.
 */
export interface PlanProgramme {
  air?: AirAsk
  /**
   * Null: the plane's own plan file.
   */
  file?: string | null
  plane: string
  sequence: string
  what: 'plan.programme'
  winds_m_s?: number[]
}
/**
 * Keep a copy of a plan under a name; a frozen plan is never changed.
 */
export interface PlanFreeze {
  file: string
  label: string
  plane: string
  what: 'plan.freeze'
}
/**
 * Make a frozen plan the plane's own plan again.
 */
export interface PlanThaw {
  file: string
  plane: string
  what: 'plan.thaw'
}
/**
 * A new plane file from the commented template or a copy of another.
 */
export interface PlaneNew {
  name: string
  /**
   * Plane file to copy; null: the template.
   */
  source?: string | null
  what: 'plane.new'
}
/**
 * Take back the last change of a file.
 */
export interface Undo {
  file: string
  what: 'undo'
}
/**
 * Do again what was taken back.
 */
export interface Redo {
  file: string
  what: 'redo'
}
/**
 * Enter a flight, or change one.
 */
export interface FlightSave {
  /**
   * Revision the form was made from; 0 for a new flight.
   */
  base?: number
  /**
   * Null: a new flight, named by the token of the action.
   */
  flight?: string | null
  form: FlightForm
  /**
   * Plan it was flown with; null: the plane as it was then.
   */
  plan?: string | null
  plane: string
  what: 'flight.save'
}
/**
 * One flight: conditions and everything seen.
 */
export interface FlightForm {
  air?: AirPart
  battery?: BatteryPart
  /**
   * Lines clicked in a video.
   */
  clicked?: ClickedPart[]
  /**
   * ISO 8601 date, with time if known.
   */
  date: string
  /**
   * Heading and roll drift.
   */
  heading?: HeadingPart[]
  /**
   * Holding sticks.
   */
  held?: HeldPart[]
  /**
   * In the pilot's words.
   */
  notes?: string
  /**
   * Where.
   */
  place?: string
  /**
   * Lines that bent.
   */
  pull?: PullPart[]
  /**
   * Recorded flights.
   */
  recorded?: RecordedPart[]
  /**
   * Timed rolls.
   */
  rolls?: RollsPart[]
  /**
   * Shaft speeds.
   */
  shaft?: ShaftPart[]
  /**
   * What was seen, as signs of the diagnosis.
   */
  signs?: string[]
  /**
   * Sound.
   */
  sound?: SoundPart[]
  /**
   * Settled speeds.
   */
  steady?: SteadyPart[]
  /**
   * Timed stretches.
   */
  timed?: TimedPart[]
  /**
   * Trim changes.
   */
  trim?: TrimPart[]
}
/**
 * Heading or roll drift on a line with the sticks left alone; signs for the diagnosis.
 */
export interface HeadingPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Length of line over which it was seen.
   */
  over_m?: number | null
  /**
   * Right wing down positive.
   */
  rolled_deg?: number | null
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * Nose right positive.
   */
  yawed_deg?: number | null
}
/**
 * Stick at which a line went at the wanted speed: `stick_percent`.
 */
export interface HeldPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
}
/**
 * How the line bent with the elevator left alone: by its rate, by degrees, or by metres over a length.
 */
export interface PullPart {
  /**
   * Turned so far over the length.
   */
  bent_deg?: number | null
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Off the straight line by so much after the length.
   */
  off_m?: number | null
  /**
   * Length of line over which it was seen.
   */
  over_m?: number | null
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * Towards the canopy, the belly, or straight.
   */
  towards: ('canopy' | 'belly') | 'none'
  /**
   * Turned so fast, where known.
   */
  turning_deg_s?: number | null
}
/**
 * A recorded flight and its confirmed lines.
 */
export interface RecordedPart {
  /**
   * Column to what it holds, where changed.
   */
  columns?: {
    [k: string]: string
  }
  /**
   * Name of the recording in the record.
   */
  file: string
  /**
   * Lines to learn from.
   */
  line?: CutPart[]
}
/**
 * Full rolls by stopwatch.
 */
export interface RollsPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Phase whose full throw was used.
   */
  phase?: string
  /**
   * Turns.
   */
  rolls: number
  /**
   * Time for them.
   */
  seconds: number
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Air speed; null: the wanted speed.
   */
  speed_m_s?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
}
/**
 * Shaft speed on a line, from telemetry.
 */
export interface ShaftPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Revolutions a minute.
   */
  shaft_rpm: number
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Air speed; null: the wanted speed.
   */
  speed_m_s?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
}
/**
 * A speed that had settled.
 */
export interface SteadyPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Speed; of a level pass both ways the mean.
   */
  speed_m_s: number
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
}
/**
 * A stretch timed by stopwatch or video: by its length, two heights, or two elevation angles at a distance.
 */
export interface TimedPart {
  /**
   * What the time was taken with.
   */
  by?: 'stopwatch' | 'video'
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * Distance over ground to the line.
   */
  distance_m?: number | null
  /**
   * Speed at the start of the line.
   */
  entry_speed_m_s?: number | null
  /**
   * Time from one video frame to the next.
   */
  frame_s?: number | null
  /**
   * Elevation angle where it began.
   */
  from_elevation_deg?: number | null
  /**
   * Height where the time began.
   */
  from_height_m?: number | null
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Length of the stretch.
   */
  length_m?: number | null
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Time over the stretch.
   */
  seconds: number
  /**
   * Flown on the line before the time began.
   */
  skipped_m?: number | null
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
  /**
   * Elevation angle where it ended.
   */
  to_elevation_deg?: number | null
  /**
   * Height where it ended.
   */
  to_height_m?: number | null
}
/**
 * Change of elevator trim that made a line straight; a sign for the diagnosis.
 */
export interface TrimPart {
  /**
   * Crow switched on.
   */
  crow?: boolean
  /**
   * Up positive.
   */
  elevator_percent: number
  /**
   * How the air was.
   */
  gusts?: 'calm' | 'usual' | 'thermals'
  /**
   * Flown inverted.
   */
  inverted?: boolean
  /**
   * Motor-brake level; null is the plan's.
   */
  level?: string | null
  /**
   * Which line of the ladder.
   */
  line?: 'vertical down' | '45 down' | 'level' | '45 up' | 'vertical up'
  /**
   * Its own slope instead, climbing positive.
   */
  slope_deg?: number | null
  /**
   * Throttle stick; null: closed going down.
   */
  stick_percent?: number | null
}
/**
 * Take a flight out; it can be brought back.
 */
export interface FlightRemove {
  flight: string
  plane: string
  what: 'flight.remove'
}
/**
 * Bring a flight back.
 */
export interface FlightRestore {
  flight: string
  plane: string
  what: 'flight.restore'
}
/**
 * Note that a part was replaced or repaired.
 */
export interface PartReplaced {
  /**
   * ISO 8601 date.
   */
  date: string
  /**
   * Key of one of the season page's kinds.
   */
  part: string
  plane: string
  what: 'part.replaced'
  /**
   * What was done.
   */
  words?: string
}
/**
 * Note that a test which a part voids was done again.
 */
export interface TestDone {
  /**
   * ISO 8601 date.
   */
  date: string
  /**
   * The part's token on the season page.
   */
  part: string
  plane: string
  /**
   * One of what the part voids.
   */
  test: string
  what: 'test.done'
}
/**
 * Take that back: the test is to be done still.
 */
export interface TestOpen {
  /**
   * The part's token on the season page.
   */
  part: string
  plane: string
  /**
   * One of what the part voids.
   */
  test: string
  what: 'test.open'
}
/**
 * Mark a plan as proven where its flights say so.
 */
export interface PlanProve {
  plan: string
  plane: string
  what: 'plan.prove'
}
/**
 * An action was carried out and its file saved.
 */
export interface Done {
  file: string
  kind?: 'done'
  revision: number
  seq: number
  /**
   * What was done.
   */
  words: string
}
/**
 * A test that was done again.
 */
export interface DoneAgainPage {
  /**
   * When, ISO 8601.
   */
  date: string
  /**
   * True where the pilot said so, which can be taken back; else a flight shows it.
   */
  noted: boolean
  /**
   * Which.
   */
  test: string
  /**
   * The same in words.
   */
  words: string
}
/**
 * A newer ask of the channel came, or it was cancelled.
 */
export interface Dropped {
  kind?: 'dropped'
  seq: number
}
/**
 * A programme's tuning with its picture.
 */
export interface EvennessPage {
  /**
   * The evenest for every wind.
   */
  by_wind: WindRowPage[]
  /**
   * What crow does to the answer to gusts.
   */
  gusts: string
  /**
   * Evenness against energy as one SVG element; colours are the page's.
   */
  picture: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * A setting flies it to the end.
   */
  possible: boolean
  /**
   * Name of the programme.
   */
  sequence: string
  /**
   * What differs from the plan of the lines: there, here.
   */
  settings: DiffRow[]
  /**
   * Every setting flown, evenest first.
   */
  trials: TrialPage[]
  /**
   * The wanted speed.
   */
  wanted_m_s: number
  /**
   * Winds above calm, in the order of the trials' numbers.
   */
  winds_m_s: number[]
  /**
   * The answer in sentences.
   */
  words: string[]
}
/**
 * The evenest setting in one wind.
 */
export interface WindRowPage {
  /**
   * Unevenness of the setting that is best over everything.
   */
  chosen_percent: number
  /**
   * Crow of the larger wing.
   */
  crow_deg: number
  /**
   * Motor-brake level.
   */
  level: string
  /**
   * Its unevenness there.
   */
  unevenness_percent: number
  /**
   * Mean wind at 6 m above the ground.
   */
  wind_m_s: number
}
/**
 * One setting flown over the programme.
 */
export interface TrialPage {
  /**
   * The evenest over everything.
   */
  best: boolean
  /**
   * Unevenness in calm air.
   */
  calm_percent: number
  /**
   * Crow of the larger wing.
   */
  crow_deg: number
  /**
   * Over the largest doubts of the plane.
   */
  doubt_percent: number
  /**
   * Energy out of the cells in calm air.
   */
  energy_wh: number
  /**
   * Flown to the end in calm air.
   */
  flown: boolean
  /**
   * No other setting is both evener and thriftier.
   */
  front: boolean
  /**
   * Charge left at the end.
   */
  left_percent: number
  /**
   * Motor-brake level.
   */
  level: string
  /**
   * Unevenness over everything tried.
   */
  over_all_percent: number
  /**
   * With a weak battery.
   */
  weak_percent: number
  /**
   * In each wind, over its gusts.
   */
  windy_percent: number[]
}
/**
 * The vertical down after the spin, stick closed.
 */
export interface ExitPage {
  /**
   * With crow.
   */
  crow: boolean
  /**
   * Speed 8 s later.
   */
  end_m_s: number
  /**
   * Until within 5 % of the wanted speed; null where it never is.
   */
  height_m: number | null
  /**
   * Speed the line begins with.
   */
  start_m_s: number
}
/**
 * Something that follows from the measurements.
 */
export interface FactPage {
  /**
   * Why it matters, in a sentence; empty where plain.
   */
  meaning: string
  /**
   * What.
   */
  name: string
  /**
   * Rounded, with unit.
   */
  value: string
}
/**
 * One way of storing failsafe.
 */
export interface FailsafePage {
  /**
   * Where the crow is.
   */
  crow: string
  /**
   * Hold, closed pulse, captured closed or no pulse.
   */
  kind: string
  /**
   * What the motor does.
   */
  motor: string
  /**
   * False where the motor may go on running.
   */
  motor_acceptable: boolean
  /**
   * The one to use where the receiver can.
   */
  recommended: boolean
  /**
   * What to store.
   */
  store: string
  /**
   * How to test it, propeller off.
   */
  test: string
  /**
   * What the plane does.
   */
  what: string
}
/**
 * One fault of a file.
 */
export interface FaultPage {
  /**
   * Line of the file, from 1; null for a missing key.
   */
  line: number | null
  /**
   * Dotted key; empty for the file as a whole.
   */
  where: string
  /**
   * What came, what is allowed, what to do.
   */
  words: string
}
/**
 * One table of the plane file.
 */
export interface FieldGroup {
  /**
   * Its measurements.
   */
  fields: FieldPage[]
  /**
   * Dotted key of the table.
   */
  key: string
  /**
   * drag: one entry of a list that can be taken away.
   */
  part: '' | 'drag'
  /**
   * In words.
   */
  title: string
}
/**
 * One measurement of the plane file.
 */
export interface FieldPage {
  /**
   * What measuring it would buy; null where it is not guessed.
   */
  buys: string | null
  /**
   * Allowed words of a choice.
   */
  choices: string[]
  /**
   * What is wrong with it and what to do; null where nothing.
   */
  fault: string | null
  /**
   * The file holds the key.
   */
  given: boolean
  /**
   * What stands in for it, in words; null where nothing does.
   */
  guess: string | null
  /**
   * Key of the help text; empty without one.
   */
  help: string
  /**
   * How to measure it.
   */
  how: string | null
  /**
   * What is entered.
   */
  kind: 'number' | 'text' | 'choice' | 'yes/no' | 'list'
  /**
   * What is measured, in the pilot's words.
   */
  label: string
  /**
   * Other key endings the file may use.
   */
  other_units: string[]
  /**
   * Dotted key in the file, unit included; drag.0.diameter_mm for lists.
   */
  path: string
  /**
   * The plane cannot be used without it.
   */
  required: boolean
  /**
   * Where the spread comes from.
   */
  source: 'stated' | 'measured' | 'guess' | 'none'
  /**
   * One sigma in the same unit; null where unknown.
   */
  spread: number | null
  /**
   * Unit as shown; empty without one.
   */
  unit: string
  /**
   * As in the file, or null; lists as text with commas.
   */
  value: number | boolean | string | null
}
/**
 * One flight in the list.
 */
export interface FlightEntryPage {
  /**
   * ISO 8601.
   */
  date: string
  /**
   * Files the evidence came from.
   */
  originals: OriginalPage[]
  /**
   * Pieces of evidence.
   */
  pieces: number
  /**
   * Where.
   */
  place: string
  /**
   * What the plan was called; empty where not known.
   */
  plan: string
  /**
   * Hash of its plan; empty where not known.
   */
  plan_hash: string
  /**
   * Taken out; can be brought back.
   */
  removed: boolean
  /**
   * Counts up with every change of the flight.
   */
  revision: number
  /**
   * Which flight.
   */
  token: string
  /**
   * What was seen, short.
   */
  words: string
}
/**
 * A file that evidence came from.
 */
export interface OriginalPage {
  /**
   * SHA-256 of its bytes, hexadecimal.
   */
  hash: string
  /**
   * True where it is kept beside the record; a video is only named.
   */
  kept: boolean
  /**
   * Its name.
   */
  name: string
  /**
   * Bytes.
   */
  size: number
}
/**
 * A flight of the record as its form.
 */
export interface FlightFormPage {
  form: FlightForm
  /**
   * Plan file it was flown with; empty where not known.
   */
  plan: string
  /**
   * To be sent back as `base` when the form is saved.
   */
  revision: number
  /**
   * Which flight.
   */
  token: string
}
/**
 * Where figures may lie.
 */
export interface FlyBox {
  /**
   * Distance of the flight line from the judges.
   */
  distance_m: number
  /**
   * Above the horizon.
   */
  elevation_deg: number
  /**
   * Lowest height allowed.
   */
  lowest_m: number
  /**
   * Either way from the middle.
   */
  side_deg: number
  /**
   * Greatest angle above the horizon flown.
   */
  used_elevation_deg: number
  /**
   * Greatest height flown.
   */
  used_high_m: number
  /**
   * Lowest height flown.
   */
  used_low_m: number
  /**
   * Greatest angle from the middle flown.
   */
  used_side_deg: number
}
/**
 * One figure.
 */
export interface FlyFigurePage {
  /**
   * What of it the moving air makes; null when calm.
   */
  by_wind_m_s?: number | null
  /**
   * Charge used on it.
   */
  charge_mah: number
  /**
   * Flown to its end.
   */
  flown: boolean
  /**
   * Greatest height.
   */
  high_m: number
  /**
   * Greatest.
   */
  load_high: number
  /**
   * Least force across the path over weight, towards the canopy.
   */
  load_low: number
  /**
   * Lowest height.
   */
  low_m: number
  /**
   * Its name in the sequence file.
   */
  name: string
  /**
   * From 1.
   */
  number: number
  /**
   * Its parts in the order flown.
   */
  parts: FlyPartPage[]
  /**
   * Mean speed.
   */
  speed_m_s: number
  /**
   * Root mean square of the deviation where speed is to be even.
   */
  unevenness_percent: number
  /**
   * Cause of it in a few words; empty where even.
   */
  why_short: string
  /**
   * Cause of it in a sentence; empty where even.
   */
  why_words: string
  /**
   * Largest deviation from the wanted speed.
   */
  worst_off_m_s: number
  /**
   * Part in which it lies, from 1.
   */
  worst_part: number
}
/**
 * One part of a figure.
 */
export interface FlyPartPage {
  /**
   * Greatest angle from the middle of the box as judged.
   */
  aside_deg: number
  /**
   * Place on the path where it begins.
   */
  begins_m: number
  /**
   * Time at its beginning.
   */
  begins_s: number
  /**
   * What of it the moving air makes: less the speed in still air at the same place; null when calm.
   */
  by_wind_m_s?: number | null
  /**
   * The speed is to be even on it; false where it is given up on purpose.
   */
  counted: boolean
  /**
   * Mean deployment.
   */
  deployment_percent: number
  /**
   * Mean drag of the airframe.
   */
  drag_n: number
  /**
   * Place on the path where it ends.
   */
  ends_m: number
  /**
   * Time at its end.
   */
  ends_s: number
  /**
   * A snap or a spin is in it: an estimate.
   */
  estimated: boolean
  /**
   * Highest speed.
   */
  fastest_m_s: number
  /**
   * Number of its figure, from 1.
   */
  figure: number
  /**
   * Greatest height.
   */
  high_m: number
  /**
   * Greatest.
   */
  load_high: number
  /**
   * Least force across the path over weight, towards the canopy.
   */
  load_low: number
  /**
   * Lowest height.
   */
  low_m: number
  /**
   * Number of the part in its figure, from 1.
   */
  part: number
  /**
   * Lowest speed.
   */
  slowest_m_s: number
  speed_m_s: Spreading
  /**
   * Mean stick.
   */
  stick_percent: number
  /**
   * Mean thrust, negative where the propeller brakes.
   */
  thrust_n: number
  /**
   * Greatest angle above the horizon as judged.
   */
  up_deg: number
  /**
   * Mean weight along the path, positive holds back.
   */
  weight_along_n: number
  /**
   * Cause of it: even, slowed, brakes_at_end, closed_band, wind and so on.
   */
  why: string
  /**
   * The cause in a few words; empty where even.
   */
  why_short: string
  /**
   * The cause in a sentence.
   */
  why_words: string
  /**
   * What is flown, in words.
   */
  words: string
  /**
   * Place on the path of that deviation.
   */
  worst_at_m: number
  /**
   * Largest deviation from the wanted speed; 0 where none is counted.
   */
  worst_off_m_s: number
}
/**
 * A programme flown with a plan.
 */
export interface FlyPage {
  /**
   * The second flight; null where none is asked.
   */
  against?: FlyPage | null
  box: FlyBox
  charge_mah: Spreading
  /**
   * Greatest battery current.
   */
  current_a: number
  /**
   * Air.
   */
  density_kg_m3: number
  /**
   * What differs in the second flight, in sentences.
   */
  differs?: string[]
  duration_s: Spreading
  /**
   * flown, stalled, stopped, empty or blown.
   */
  ended: string
  /**
   * How it ended, in a sentence.
   */
  ended_words: string
  /**
   * Energy out of the cells.
   */
  energy_wh: number
  /**
   * Highest speed.
   */
  fastest_m_s: number
  /**
   * Figures in the order flown.
   */
  figures: FlyFigurePage[]
  /**
   * What of the programme costs marks though it can be flown.
   */
  findings: string[]
  /**
   * The programme is made up, of no rule book.
   */
  invented: boolean
  /**
   * Charge left at the end; null where the battery stays full.
   */
  left_percent: number | null
  /**
   * Length of the path flown.
   */
  length_m: number
  /**
   * What this answer leaves out.
   */
  limits: string[]
  /**
   * What is flown.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Name of the programme.
   */
  sequence: string
  /**
   * Null where no linkage is described.
   */
  servo: FlyServo | null
  /**
   * Spin and snap, where the programme has any: estimates.
   */
  spin?: SpinPage | null
  track: FlyTrack
  unevenness_percent: Spreading
  /**
   * Lowest voltage under load.
   */
  voltage_v: number
  /**
   * Speed wanted throughout.
   */
  wanted_speed_m_s: number
  /**
   * Wind in words.
   */
  wind?: string
  /**
   * Share of that time within 5 percent of the wanted speed.
   */
  within_percent: number
  /**
   * What to watch, in sentences.
   */
  words: string[]
}
/**
 * The aileron servo that works hardest.
 */
export interface FlyServo {
  /**
   * Which aileron.
   */
  corner: string
  /**
   * Of its stall torque at sagged supply.
   */
  load_percent: number
  /**
   * At this speed, the highest of the flight.
   */
  speed_m_s: number
}
/**
 * Spin and snap of a plan.
 */
export interface SpinPage {
  /**
   * Incidence, degrees.
   */
  alpha_deg: RangePage | null
  /**
   * What kind of number this is.
   */
  estimate: string
  /**
   * The line after the spin.
   */
  exits: ExitPage[]
  /**
   * Height of one turn.
   */
  height_m: RangePage | null
  /**
   * Load in the spin, in units of the weight.
   */
  load_g: number | null
  /**
   * Sink.
   */
  sink_m_s: RangePage | null
  /**
   * Snap rolls at the wanted speed.
   */
  snaps: SnapPage[]
  /**
   * Strips find a steady spin.
   */
  spins: boolean
  /**
   * Turns a second.
   */
  turns_s: RangePage | null
  /**
   * In sentences.
   */
  words: string[]
}
/**
 * A value with the lowest and highest that the estimate allows.
 */
export interface RangePage {
  /**
   * Highest.
   */
  high: number
  /**
   * Lowest.
   */
  low: number
  /**
   * Nominal.
   */
  value: number
}
/**
 * A snap roll at the wanted speed.
 */
export interface SnapPage {
  /**
   * Crow fully out.
   */
  crow: boolean
  /**
   * Load at its entry, in units of the weight.
   */
  load_g: number | null
  /**
   * Degrees a second; null where strips find no snap.
   */
  rate_deg_s: RangePage | null
}
/**
 * The flight in time, to four decimals, one entry each. Axes: x along the flight line to the right as judged, y
 * away, z up.
 */
export interface FlyTrack {
  /**
   * Unit vector towards the canopy.
   */
  canopy: [number, number, number][]
  /**
   * The controller holds the motor closed.
   */
  closed: boolean[]
  /**
   * Speed is to be even here.
   */
  counted: boolean[]
  /**
   * Battery current.
   */
  current_a: number[]
  /**
   * Crow really out.
   */
  deployment_percent: number[]
  /**
   * Number of the figure, from 1.
   */
  figure: number[]
  /**
   * Unit vector the nose points along.
   */
  forward: [number, number, number][]
  /**
   * Height above the ground.
   */
  height_m: number[]
  /**
   * Incidence of the thrust line, nose up positive.
   */
  incidence_deg: number[]
  /**
   * Charge left in the battery; empty list where it stays full.
   */
  left_percent: number[]
  /**
   * Force across the path over weight, towards the canopy.
   */
  load: number[]
  /**
   * Number of the part, from 1.
   */
  part: number[]
  /**
   * Place on the path.
   */
  place_m: number[]
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number[]
  /**
   * Speed.
   */
  speed_m_s: number[]
  /**
   * Throttle stick.
   */
  stick_percent: number[]
  /**
   * Thrust, negative where the propeller brakes.
   */
  thrust_n: number[]
  /**
   * Time.
   */
  time_s: number[]
  /**
   * Battery voltage under that load.
   */
  voltage_v: number[]
  /**
   * Along the flight line, right of the middle positive.
   */
  x_m: number[]
  /**
   * Off the flight line, away from the judges positive.
   */
  y_m: number[]
}
/**
 * The folder or a file in it has changed, by whom ever.
 */
export interface FolderMoved {
  folder: FolderPage
  kind?: 'folder'
}
/**
 * The pilot's folder.
 */
export interface FolderPage {
  /**
   * Where it is.
   */
  folder: string
  /**
   * What to know, for example that a file was changed by another program.
   */
  notes: string[]
  /**
   * Plane files.
   */
  planes: PlaneEntry[]
  /**
   * Plan files.
   */
  plans: PlanEntry[]
  /**
   * Counts up with every entry into the record of flights.
   */
  record?: number
  /**
   * Programmes to fly: those that come with Evenfall, then files of the folder.
   */
  sequences?: SequenceEntry[]
  /**
   * Address for the local network; null where not shared.
   */
  shared: string | null
}
/**
 * A plane file of the folder.
 */
export interface PlaneEntry {
  /**
   * Name of the file.
   */
  file: string
  /**
   * Name of the plane; the file's where it cannot be read.
   */
  name: string
  /**
   * Name of the plane's own plan file, there or not.
   */
  own_plan: string
  /**
   * Plan files made for it, its own first where it is there.
   */
  plans: string[]
  /**
   * What redo would do; null where nothing.
   */
  redo: string | null
  /**
   * Counts up with every change.
   */
  revision: number
  /**
   * What undo would take back; null where nothing.
   */
  undo: string | null
  /**
   * Read without faults.
   */
  usable: boolean
}
/**
 * A plan file of the folder.
 */
export interface PlanEntry {
  /**
   * Name of the file.
   */
  file: string
  /**
   * Date of freezing; null where not frozen.
   */
  frozen_on: string | null
  /**
   * What to call it.
   */
  label: string
  /**
   * Name of the plane it was made for.
   */
  plane: string
  /**
   * What redo would do; null where nothing.
   */
  redo: string | null
  /**
   * Counts up with every change.
   */
  revision: number
  /**
   * As computed, changed by hand, kept for good, or proven by flights.
   */
  state: 'tuned' | 'edited' | 'frozen' | 'proven'
  /**
   * What undo would take back; null where nothing.
   */
  undo: string | null
  /**
   * Read without faults.
   */
  usable: boolean
}
/**
 * A programme of figures to fly.
 */
export interface SequenceEntry {
  /**
   * Name of the file; of one that comes with Evenfall the name it goes by.
   */
  file: string
  /**
   * Of its content: another one where it has changed.
   */
  hash: string
  /**
   * What it calls itself; empty where it does not say.
   */
  name: string
}
/**
 * A number the file lacks, best buy first.
 */
export interface GuessPage {
  /**
   * What measuring it would buy.
   */
  buys: string
  /**
   * How to measure it.
   */
  how: string
  /**
   * Key that would give it.
   */
  path: string
  /**
   * What is used instead, with its spread.
   */
  used: string
  /**
   * In words.
   */
  what: string
}
/**
 * First message of every connection.
 */
export interface Hello {
  folder: FolderPage
  kind?: 'hello'
  /**
   * A guest reads everything and writes forms only.
   */
  role: 'owner' | 'guest'
  /**
   * New at every start of the server.
   */
  run: string
  version: string
}
/**
 * Stick at which a line of a slope is flown at the wanted speed.
 */
export interface HoldingStickPage {
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way.
   */
  status: string
  /**
   * The stick with its spread, percent; null on an end or in the band.
   */
  stick: Spreading | null
  /**
   * Stick; null where no stick holds the wanted speed.
   */
  stick_percent: number | null
}
/**
 * Answer of topic `kinematics`. Angles rad, lengths m, sticks -1 to 1 (throttle 0 to 1).
 */
export interface KinematicsPage {
  /**
   * Before bench work.
   */
  cautions: string[]
  /**
   * End of the closed band, 0 to 1.
   */
  closed_below: number
  /**
   * Deployment over throttle stick, 0 to 1; empty without.
   */
  curve: [number, number][]
  /**
   * Elevator added at full deployment, rad, trailing edge down positive.
   */
  elevator_crow: number
  /**
   * What each corner keeps with crow out.
   */
  kept: CornerOut[]
  /**
   * With and without offset in a sentence.
   */
  kept_words: string
  /**
   * Every described linkage; empty without.
   */
  linkages: LinkagePage[]
  /**
   * Why linkages are missing, and which keys would give them; empty where all there.
   */
  missing: string
  /**
   * Phases with throws and exponentials.
   */
  phases: PlanPhasePage[]
  /**
   * Name of the plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Motor command over stick, 0 to 1.
   */
  throttle_curve: [number, number][]
  /**
   * Wings with ailerons.
   */
  wings: WingMix[]
  /**
   * Arms square to their rods instead of as planned.
   */
  without_offset: boolean
}
/**
 * One aileron's linkage, SI and radians: the arguments of `evenfall.linkage.fourbar.FourBar` and of the corner.
 */
export interface LinkagePage {
  /**
   * Servo arm radius, m.
   */
  arm: number
  /**
   * Arm from square at the centre pulse, rad.
   */
  centre: number
  /**
   * upper_left and so on.
   */
  corner: string
  /**
   * The arm stands on the side away from the horn.
   */
  crossed: boolean
  /**
   * +1 where a longer pulse pushes the rod.
   */
  direction: number
  /**
   * Servo axis to hinge line along the chord, m.
   */
  distance: number
  /**
   * Servo axis beyond the hinge line towards the horn's side, m.
   */
  height: number
  /**
   * Greatest throw any limit allows, rad.
   */
  high: number
  /**
   * What ends the travel there.
   */
  high_words: string
  /**
   * Horn radius, m.
   */
  horn: number
  /**
   * The horn stands on the upper side.
   */
  horn_above: boolean
  /**
   * Least throw any limit allows, rad, trailing edge down positive.
   */
  low: number
  /**
   * What ends the travel there.
   */
  low_words: string
  /**
   * Arm from square with the surface at neutral, rad.
   */
  offset: number
  /**
   * Centre pulse, s.
   */
  pulse_centre: number
  /**
   * Rod, pin to pin, m.
   */
  rod: number
  /**
   * Servo angle per pulse, rad/s.
   */
  servo_gain: number
  /**
   * Horn pin aft of the hinge line at neutral, m.
   */
  setback: number
  /**
   * Arm angle square to its rod, from the chord's normal, rad.
   */
  square: number
  /**
   * Spanwise place of the servo, m, right positive.
   */
  y: number
}
/**
 * A phase as in the plan file. Throws either way at full stick.
 */
export interface PlanPhasePage {
  /**
   * Aileron throw, mean of up and down.
   */
  aileron_deg: number
  /**
   * Exponential of the aileron stick.
   */
  aileron_exponential_percent: number
  /**
   * Crow follows the throttle stick here.
   */
  crow_live: boolean
  /**
   * Elevator throw.
   */
  elevator_deg: number
  /**
   * Exponential of the elevator stick.
   */
  elevator_exponential_percent: number
  /**
   * take-off, normal, snap, spin, landing or other.
   */
  kind: string
  /**
   * As the pilot calls it.
   */
  name: string
  /**
   * Roll throw added at full deployment.
   */
  roll_boost_percent: number
  /**
   * Rudder throw.
   */
  rudder_deg: number
  /**
   * Exponential of the rudder stick.
   */
  rudder_exponential_percent: number
}
/**
 * Crow of one wing.
 */
export interface WingMix {
  /**
   * Angle fully deployed, rad, trailing edge down positive.
   */
  crow: number
  /**
   * upper or lower.
   */
  wing: string
}
/**
 * What all flights of a plane with a plan say together.
 */
export interface LearnPage {
  /**
   * What this evidence cannot tell apart, in words.
   */
  alike: string[]
  /**
   * What to change; null where nothing can be said.
   */
  change: ChangePage | null
  /**
   * Corrections, most changed first.
   */
  corrections: CorrectionPage[]
  /**
   * What to fly next; null where nothing can be said.
   */
  flight: NextFlightPage | null
  /**
   * Flights learned from.
   */
  flights: number
  /**
   * What could not be used, and why; what to know.
   */
  notes: string[]
  /**
   * Every piece of evidence.
   */
  pieces: PiecePage[]
  /**
   * What the plan is called.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * These flights prove the plan.
   */
  proven: boolean
  /**
   * Why the plan is proven, or what is missing for it.
   */
  proven_words: string
  /**
   * The fit came to rest.
   */
  settled: boolean
  /**
   * Lines before and after.
   */
  speeds: LearnedSpeedPage[]
  /**
   * Whether there was anything to learn from.
   */
  state: 'no flights' | 'learned'
}
/**
 * What to fly next.
 */
export interface NextFlightPage {
  /**
   * Lowest entry height, where a gate names one.
   */
  height?: string
  /**
   * The next best, with what they would bring.
   */
  others?: string[]
  /**
   * Lines to fly and how to measure them.
   */
  what: string
  /**
   * Reason, with the doubt now and after it.
   */
  why: string
}
/**
 * One piece of evidence against all the others.
 */
export interface PiecePage {
  /**
   * What the other evidence expects there; empty where it is no single number.
   */
  expected: string
  /**
   * Kind of evidence in words.
   */
  kind: string
  /**
   * Flight and what was seen.
   */
  name: string
  /**
   * How far off, in sigma of both together; signed where it is one number.
   */
  off_sigma: number
  /**
   * Further off than three sigma.
   */
  outlier: boolean
  /**
   * What was seen, with unit and doubt.
   */
  seen: string
  /**
   * What it taught most, in words; empty where nothing.
   */
  taught: string
  /**
   * Share of its weight that it kept, 0 to 1.
   */
  weight: number
}
/**
 * A line's speed before and after.
 */
export interface LearnedSpeedPage {
  /**
   * With what was learned; null without a steady speed.
   */
  after_m_s: Spreading | null
  /**
   * As predicted before flights; null without a steady speed.
   */
  before_m_s: Spreading | null
  /**
   * The line.
   */
  line: string
  /**
   * The wanted speed.
   */
  wanted_m_s: number
}
/**
 * One level of the controller.
 */
export interface LevelPage {
  /**
   * Its place on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Its name.
   */
  name: string
}
/**
 * A straight line found in a recording.
 */
export interface LineCutPage {
  /**
   * How far the path leaves a straight line, rms.
   */
  across_m: number
  /**
   * Closed-throttle part; null where none or not known.
   */
  closed_s: [number, number] | null
  /**
   * What to look at before confirming.
   */
  doubts: string[]
  /**
   * Start, in the recording's own time.
   */
  from_s: number
  /**
   * Length.
   */
  length_m: number
  /**
   * The line of the ladder it fits; empty where none.
   */
  line: string
  /**
   * Slope, climbing positive.
   */
  slope_deg: number
  /**
   * Its doubt, one sigma.
   */
  slope_sigma_deg: number
  /**
   * Speed over ground at its start.
   */
  speed_from_m_s: number
  /**
   * At its end.
   */
  speed_to_m_s: number
  /**
   * End.
   */
  to_s: number
}
/**
 * One line at the stick it is flown with.
 */
export interface LinePage {
  /**
   * "vertical down", "45 down", "level", "45 up" or "vertical up".
   */
  name: string
  /**
   * The status in words.
   */
  remark: string
  /**
   * Slope, degrees, climbing positive.
   */
  slope_deg: number
  /**
   * ok, or what stands in the way (one of the statuses).
   */
  status: string
  /**
   * Every steady speed at that stick, slowest first.
   */
  steady: Steady[]
  /**
   * Stick: where the wanted speed is held, or the nearest end.
   */
  stick_percent: number
}
/**
 * One steady speed of a line.
 */
export interface Steady {
  drag_n: DragShares
  /**
   * Lowest and highest entry speed that ends here, of those tried; null where none does.
   */
  reached_from_m_s: [number, number] | null
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  speed_m_s: Spreading
  /**
   * True where speed and shaft speed return after a disturbance.
   */
  stable: boolean
}
/**
 * A recording: what its columns hold, its track, its lines.
 */
export interface LogPage {
  /**
   * What a column may hold.
   */
  choices: string[]
  /**
   * Columns; empty for GPX and NMEA.
   */
  columns: ColumnPage[]
  /**
   * Delimiter in words; empty for GPX and NMEA.
   */
  delimiter: string
  /**
   * East of the start.
   */
  east_m: (number | null)[]
  /**
   * Name in the record.
   */
  file: string
  /**
   * Height over the start at these times.
   */
  height_m: (number | null)[]
  /**
   * Kind of file.
   */
  kind: 'csv' | 'gpx' | 'nmea'
  /**
   * Straight lines found; as trimmed where asked.
   */
  lines: LineCutPage[]
  /**
   * North of the start.
   */
  north_m: (number | null)[]
  /**
   * Gaps, duplicates, clock jumps, what was left out.
   */
  notes: string[]
  /**
   * Shaft speed.
   */
  shaft_rpm: (number | null)[]
  /**
   * Speed over ground.
   */
  speed_m_s: (number | null)[]
  /**
   * Throttle.
   */
  throttle_percent: (number | null)[]
  /**
   * Thinned times.
   */
  time_s: number[]
  /**
   * Wind found in level flight, in words; or that it could not be.
   */
  wind: string
}
/**
 * Crow from which on something is out of reach.
 */
export interface MapLimitPage {
  /**
   * From this crow upward.
   */
  crow_deg: number
  /**
   * Which throw is no longer there.
   */
  kind: 'snap' | 'normal'
  /**
   * The reason in words.
   */
  reason: string
  /**
   * The reason in a few words, for the picture.
   */
  short: string
}
/**
 * Answer of topic `march`: a line from its entry on.
 */
export interface MarchPage {
  /**
   * Crow really out.
   */
  deployment_percent: number[]
  /**
   * Steady speed it settles at; null where none within the time.
   */
  ends_m_s: number | null
  /**
   * Speed at entry.
   */
  entry_m_s: number
  /**
   * Height lost so far, down positive.
   */
  height_m: number[]
  /**
   * The line.
   */
  line: string
  /**
   * Other stable steady speeds that other entries end in.
   */
  others_m_s: number[]
  /**
   * Time until within 3 percent of it for good.
   */
  settled_s: number | null
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number[]
  /**
   * Its slope.
   */
  slope_deg: number
  /**
   * Speed.
   */
  speed_m_s: number[]
  /**
   * Stick it is flown with.
   */
  stick_percent: number
  /**
   * Time.
   */
  time_s: number[]
  /**
   * What happens, in a sentence.
   */
  words: string
}
/**
 * Motor choice as in the plan file.
 */
export interface MotorPage {
  /**
   * The level on the scale 0 to 100.
   */
  brake_percent: number
  /**
   * Motor-brake level.
   */
  level: string
  /**
   * Points: stick percent, command percent.
   */
  throttle_curve: [number, number][]
}
/**
 * A file that was sent in and is kept beside the record.
 */
export interface OriginalAnswer {
  /**
   * SHA-256 of its bytes, hexadecimal: what `log` and `sound` are asked about.
   */
  hash: string
  /**
   * What it seems to be.
   */
  kind: 'csv' | 'gpx' | 'nmea' | 'wav' | 'other'
  /**
   * Its name in the record, to be given as `file` in the form.
   */
  name: string
  /**
   * Bytes.
   */
  size: number
  /**
   * What can be done with it.
   */
  words: string
}
/**
 * A replaced or repaired part and what it voids.
 */
export interface PartPage {
  /**
   * When; empty in the list of what can be replaced.
   */
  date: string
  /**
   * Those done again, when and by what.
   */
  done?: DoneAgainPage[]
  /**
   * Which kind of part.
   */
  key: string
  /**
   * Those not done again yet.
   */
  open: string[]
  /**
   * Which entry of the record; empty in the list of what can be replaced.
   */
  token?: string
  /**
   * Tests to do again, in words.
   */
  voids: string[]
  /**
   * Reason, with source or common practice.
   */
  why: string
  /**
   * What was done, or what the part is called.
   */
  words: string
}
/**
 * One aileron corner as in the plan file.
 */
export interface PlanCornerPage {
  /**
   * Which arm of the horn carries the rod; 1 is the one in use.
   */
  arm: number
  /**
   * Hole of the servo arm.
   */
  arm_hole_mm: number
  /**
   * upper_left, upper_right, lower_left or lower_right.
   */
  corner: string
  /**
   * Hole of the surface horn.
   */
  horn_hole_mm: number
  /**
   * Servo turn either way for the normal throw.
   */
  normal_turn_deg: number
  /**
   * Arm from square to its rod with the surface at neutral, pushing positive.
   */
  offset_deg: number
  /**
   * Pulse with crow fully out.
   */
  pulse_deployed_us: number
  /**
   * Pulse with the surface at neutral.
   */
  pulse_neutral_us: number
  /**
   * radio, servo or none.
   */
  shift_by: string
  /**
   * Neutral pulse less centre pulse.
   */
  shift_us: number
  /**
   * Servo turn either way for the snap throw.
   */
  snap_turn_deg: number
  /**
   * Teeth to turn the arm from square, pushing positive.
   */
  teeth: number
  /**
   * The servo horn is turned upside down.
   */
  turned_over: boolean
  /**
   * How the arm is fitted, in one line.
   */
  words: string
}
/**
 * A plan as in its file.
 */
export interface PlanPage {
  /**
   * How each aileron is fitted; empty where unknown.
   */
  corners: PlanCornerPage[]
  /**
   * Crow; null where the plan has none.
   */
  crow: CrowPage | null
  motor: MotorPage
  /**
   * The phases.
   */
  phases: PlanPhasePage[]
}
/**
 * A plan as the page shows and edits it.
 */
export interface PlanView {
  /**
   * Arrangements the plane can fly.
   */
  arrangements: string[]
  /**
   * Against the tuned plan; empty where equal or never tuned.
   */
  differs: DiffRow[]
  /**
   * Every fault of the file.
   */
  faults: FaultPage[]
  /**
   * Plan file; null: the plane as it is now.
   */
  file: string | null
  /**
   * What to call it.
   */
  label: string
  /**
   * Motor-brake levels of the plane's controller.
   */
  levels: string[]
  /**
   * Largest crow the hinges allow in this arrangement.
   */
  most_deg: number
  /**
   * What it holds; null where the file cannot be used.
   */
  plan: PlanPage | null
  /**
   * Revision of the file; 0 without one.
   */
  revision: number
  /**
   * Where it comes from.
   */
  state: 'as it is' | 'tuned' | 'edited' | 'frozen' | 'proven'
  /**
   * The file; empty without one.
   */
  text: string
  /**
   * A tuned plan of this plane is on record to compare with.
   */
  tuned_known: boolean
}
/**
 * Answer of topic `plane`.
 */
export interface PlaneView {
  /**
   * What follows; empty where the file cannot be used.
   */
  facts: FactPage[]
  /**
   * Every fault.
   */
  faults: FaultPage[]
  /**
   * Plane file.
   */
  file: string
  /**
   * Its tables in the order of measuring.
   */
  groups: FieldGroup[]
  /**
   * What was guessed.
   */
  guesses: GuessPage[]
  /**
   * Name of the plane.
   */
  name: string
  /**
   * Harmless but worth a look.
   */
  notes: string[]
  /**
   * Content hash of the file.
   */
  plane_hash: string
  /**
   * Its revision.
   */
  revision: number
  /**
   * Its shape; the last usable one is kept by the page. Null if unusable.
   */
  shape: ShapePage | null
  /**
   * The file.
   */
  text: string
  /**
   * Read without faults.
   */
  usable: boolean
  /**
   * Wanted speed; null where it has to be computed or is missing.
   */
  wanted_speed_m_s: number | null
}
/**
 * The plane to scale.
 */
export interface ShapePage {
  /**
   * Blades.
   */
  blades: number
  /**
   * Centre of gravity, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  cg: [number, number, number]
  /**
   * Overall height.
   */
  height_mm: number
  /**
   * Overall length.
   */
  length_mm: number
  /**
   * Neutral point, mm; null where not computed.
   */
  neutral_x_mm: number | null
  /**
   * Diameter; disc at the origin.
   */
  propeller_mm: number
  /**
   * The rest.
   */
  solids: SolidPage[]
  /**
   * Overall span.
   */
  span_mm: number
  /**
   * Lifting surfaces and what hinges on them, both sides.
   */
  surfaces: SurfacePage[]
}
/**
 * Body, wheel, strut or opening.
 */
export interface SolidPage {
  /**
   * Centre, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  at: [number, number, number]
  /**
   * In words.
   */
  name: string
  /**
   * How to draw it.
   */
  shape: 'body' | 'wheel' | 'bar' | 'plate'
  /**
   * Extent along x, y, z, mm.
   *
   * @minItems 3
   * @maxItems 3
   */
  size: [number, number, number]
}
/**
 * A flat piece of the plane in the drawing frame (mm: x aft, y right, z up; origin on propeller disc and thrust
 * line).
 */
export interface SurfacePage {
  /**
   * Hinge line inner to outer end; null where fixed.
   */
  hinge: [[number, number, number], [number, number, number]] | null
  /**
   * upper_left, upper_left_aileron, tail_right, elevator_left, fin, rudder and so on.
   */
  name: string
  /**
   * Corners in order, leading edge inner first.
   */
  outline: [number, number, number][]
  /**
   * What it is.
   */
  part: 'wing' | 'aileron' | 'tail' | 'elevator' | 'fin' | 'rudder'
  /**
   * Greatest thickness at the root.
   */
  thickness_mm: number
}
/**
 * Answer of `predict`.
 */
export interface PredictPage {
  air: AirPage
  /**
   * Holding stick against slope.
   */
  holding_stick: HoldingStickPage[]
  /**
   * What this answer leaves out.
   */
  limits: string[]
  /**
   * The five lines, from vertical down to vertical up.
   */
  lines: LinePage[]
  /**
   * What was flown: as it is now, or the plan's name.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Steady rolls.
   */
  roll: RollPage[]
  /**
   * Straightness of the down lines.
   */
  straightness: StraightnessPage[]
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * What to watch, in words.
   */
  warnings: string[]
}
/**
 * Steady roll at one throw.
 */
export interface RollPage {
  /**
   * Crow fully out or stowed.
   */
  deployed: boolean
  /**
   * The same rate with its spread, degrees a second; null if unsolved.
   */
  rate: Spreading | null
  /**
   * Steady rate of roll, degrees a second.
   */
  rate_deg_s: number
  retention: Retention
  /**
   * The section part of retention with its spread; null if unsolved.
   */
  section: Spreading | null
  /**
   * Aileron throw either way from where crow holds it, degrees.
   */
  throw_deg: number
}
/**
 * Roll response deployed over stowed, in parts that multiply.
 */
export interface Retention {
  /**
   * Part of the linkage; null where the plane file describes none.
   */
  linkage: number | null
  /**
   * Part of the wing sections at equal throw and speed.
   */
  section: number
  /**
   * Speed of the line over the wanted speed.
   */
  speed: number
  /**
   * Product of the parts that are known.
   */
  total: number
}
/**
 * How much a line bends with the elevator held at hands-off level trim.
 */
export interface StraightnessPage {
  /**
   * Clean bend with its spread, degrees a second; null if unsolved.
   */
  clean: Spreading | null
  /**
   * The same over 50 m of line, degrees.
   */
  clean_deg_50m: number
  /**
   * Clean aeroplane, degrees a second, towards the canopy positive.
   */
  clean_deg_s: number
  /**
   * Bend of the crow with its spread, degrees a second; null if unsolved.
   */
  crow: Spreading | null
  /**
   * The same over 50 m of line, degrees.
   */
  crow_deg_50m: number
  /**
   * Added by full crow, degrees a second.
   */
  crow_deg_s: number
  /**
   * What to change, or that nothing is needed.
   */
  cure: string
  /**
   * Flown inverted.
   */
  inverted: boolean
  /**
   * The line.
   */
  line: string
}
/**
 * What a long job is doing.
 */
export interface Progress {
  kind?: 'progress'
  seq: number
  words: string
}
/**
 * An ask or an action could not be answered: the reason and every fault.
 */
export interface Refused {
  faults?: FaultPage[]
  kind?: 'refused'
  seq: number | null
  /**
   * What came, what is allowed, what to do.
   */
  words: string
}
/**
 * Answer of `rig`.
 */
export interface RigPage {
  /**
   * Before bench work and the first flight.
   */
  cautions: string[]
  /**
   * Every aileron; empty without servo and linkage.
   */
  corners: CornerPage[]
  /**
   * Stick positions of the deployment curve's points.
   */
  curve_stick_percent: number[]
  /**
   * Elevator share at these points, elevator down positive.
   */
  elevator_percent: number[]
  /**
   * Every way of storing failsafe.
   */
  failsafe: FailsafePage[]
  /**
   * Why crow is off for landing, or what to expect.
   */
  landing: string
  /**
   * What this radio cannot do of the plan.
   */
  lost: string[]
  /**
   * The phases.
   */
  phases: RigPhasePage[]
  /**
   * Name of the plan.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Caution about play; empty where small or not measured.
   */
  play: string
  /**
   * Name of the radio description.
   */
  radio: string
  /**
   * The five lines before and after rounding.
   */
  speeds: SpeedChange[]
  /**
   * Cures in the plan: sign, size of one step, how to tell in the air.
   */
  straightness: string[]
  /**
   * Supply against all servos moving.
   */
  supply: string
  /**
   * The travel budget in words, with the cheapest cure where it does not close.
   */
  travel: string
}
/**
 * One phase.
 */
export interface RigPhasePage {
  /**
   * Throw either way, degrees.
   */
  aileron_deg: number
  /**
   * Crow live here.
   */
  crow: boolean
  /**
   * Throw either way, degrees.
   */
  elevator_deg: number
  /**
   * Aileron, elevator, rudder.
   *
   * @minItems 3
   * @maxItems 3
   */
  exponential_percent: [number, number, number]
  /**
   * As the pilot calls it.
   */
  name: string
  /**
   * Extra roll share at full deployment.
   */
  roll_boost_percent: number
  /**
   * Throw either way, degrees.
   */
  rudder_deg: number
}
/**
 * A line before and after rounding to the radio.
 */
export interface SpeedChange {
  /**
   * Speed with the radio's rounded settings.
   */
  flown_m_s: number | null
  /**
   * The line.
   */
  line: string
  /**
   * Speed of the plan.
   */
  planned_m_s: number | null
}
/**
 * A plane's season: what changed, why, what it did.
 */
export interface SeasonPage {
  /**
   * Flights, newest first.
   */
  flights: FlightEntryPage[]
  /**
   * Parts that can be replaced and what each voids.
   */
  kinds: PartPage[]
  /**
   * What was set aside or restored on opening the record; empty where nothing.
   */
  note: string
  /**
   * Replaced parts, newest first.
   */
  parts: PartPage[]
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Everything, newest first.
   */
  rows: SeasonRowPage[]
  /**
   * The wanted speed.
   */
  wanted_m_s: number | null
}
/**
 * One thing that happened.
 */
export interface SeasonRowPage {
  /**
   * ISO 8601.
   */
  date: string
  /**
   * Vertical down speed believed then; null where not known.
   */
  down_m_s: Spreading | null
  /**
   * What it did; empty where not seen yet.
   */
  effect: string
  /**
   * Kind.
   */
  what: 'flight' | 'change' | 'part' | 'learned' | 'proven' | 'plan' | 'test'
  /**
   * Reason; empty where none was given.
   */
  why: string
  /**
   * What.
   */
  words: string
}
/**
 * A steady state of the shaft.
 */
export interface ShaftMeeting {
  /**
   * Name of the level.
   */
  level: string
  /**
   * Shaft speed, revolutions a minute.
   */
  shaft_rpm: number
  /**
   * Airspeed.
   */
  speed_m_s: number
  /**
   * True where the shaft returns to it.
   */
  stable: boolean
  /**
   * Thrust; negative where the propeller brakes.
   */
  thrust_n: number
  /**
   * Torque there.
   */
  torque_n_m: number
}
/**
 * Why half motor brake is hard: torques over shaft speed.
 */
export interface ShaftPicturePage {
  /**
   * Windmilling torque at each airspeed.
   */
  driving: TorqueCurve[]
  /**
   * Torque of each level with friction.
   */
  holding: TorqueCurve[]
  /**
   * Every steady state.
   */
  meetings: ShaftMeeting[]
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Shaft speeds, revolutions a minute.
   */
  shaft_rpm: number[]
  /**
   * Airspeeds of `driving`.
   */
  speeds_m_s: number[]
}
/**
 * Torque over the shaft speeds of the page: by the air at an airspeed, or held by a level.
 */
export interface TorqueCurve {
  /**
   * Airspeed in m/s, or the name of the level.
   */
  name: string
  /**
   * Positive: the air turns the shaft forward; held by the level.
   */
  torque_n_m: number[]
}
/**
 * Answer of topic `sheet`: where the printed sheet can be had.
 */
export interface SheetAnswer {
  /**
   * Size of the phone's file.
   */
  bytes_html: number
  /**
   * Address of the file for the phone.
   */
  html: string
  /**
   * Addresses of the pages as pictures (SVG).
   */
  pages: string[]
  /**
   * Address of the PDF; &paper=letter for the other paper.
   */
  pdf: string
  /**
   * A sheet can be made.
   */
  ready: boolean
  /**
   * What is missing; empty where ready.
   */
  why_not: string
}
/**
 * A sound: its spectrogram and what was heard.
 */
export interface SoundPage {
  /**
   * Damping of a spin-down, with spread; empty where not asked or not heard.
   */
  damping_words: string
  /**
   * Name in the record.
   */
  file: string
  /**
   * Frequencies of its rows, rising.
   */
  frequency_hz: number[]
  /**
   * A propeller was heard.
   */
  heard: boolean
  /**
   * Loudness, base64 of one byte each, row by row from the lowest frequency.
   */
  level: string
  /**
   * Length.
   */
  seconds: number
  /**
   * Shaft speed, revolutions a minute; null where refused.
   */
  shaft_rpm: number | null
  /**
   * One sigma.
   */
  shaft_rpm_sigma: number | null
  /**
   * Times of the columns of the spectrogram.
   */
  time_s: number[]
  /**
   * Blade frequency as heard.
   */
  track_hz: (number | null)[]
  /**
   * Shaft speed at these times; null where not heard.
   */
  track_rpm: (number | null)[]
  /**
   * Times of the track.
   */
  track_s: number[]
  /**
   * What was heard, or why it is refused.
   */
  words: string
}
/**
 * Down speed over crow and motor brake, stick closed.
 */
export interface SpeedMapPage {
  air: AirPage
  /**
   * Upper/lower wing.
   */
  arrangement: string
  /**
   * Columns of the grid.
   */
  brake_percent: number[]
  /**
   * The chosen point; null where nothing is chosen.
   */
  chosen: ChosenPage | null
  /**
   * Lines of round speeds.
   */
  contours: ContourPage[]
  /**
   * Rows of the grid; the last one is the stop of the hinges.
   */
  crow_deg: number[]
  /**
   * What the mark around the chosen point means; null without one.
   */
  legend: string | null
  /**
   * Levels of the controller.
   */
  levels: LevelPage[]
  /**
   * What is out of reach from which crow on, lowest first.
   */
  limits: MapLimitPage[]
  /**
   * The plan's name, or tuned.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * What to know about it, in words.
   */
  remarks: string[]
  /**
   * The same with the torque of the motor brake half to twice what was computed.
   */
  shaft_band_doubt_percent: [number, number] | null
  /**
   * Motor brake with two propeller speeds at the wanted speed, as computed; null without.
   */
  shaft_band_percent: [number, number] | null
  /**
   * Every steady speed, slowest first, by row (crow) and column (motor brake).
   */
  states: MapState[][][]
  /**
   * Where two propeller speeds are possible.
   */
  two_speeds: TwoSpeedsPage[]
  wanted: ContourPage
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
  /**
   * What stands in the way, in words.
   */
  warnings: string[]
  /**
   * Wings with ailerons.
   */
  wings: number
}
/**
 * A patch of the map with two propeller speeds: at each brake setting crow from low to high.
 */
export interface TwoSpeedsPage {
  /**
   * Motor brake, rising.
   */
  brake_percent: number[]
  /**
   * Highest crow with two stable steady speeds.
   */
  high_deg: number[]
  /**
   * Lowest crow with two stable steady speeds.
   */
  low_deg: number[]
}
/**
 * Holding stick over slope, with crow and without.
 */
export interface StickPicturePage {
  /**
   * Force gained where the motor comes free of the closed band.
   */
  brake_step_n: number
  /**
   * End of the closed band.
   */
  closed_below_percent: number
  /**
   * Flown inverted.
   */
  inverted: boolean
  /**
   * The plan's name, or as it is now.
   */
  plan: string
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * Stick where deployment begins; null without crow.
   */
  threshold_percent: number | null
  /**
   * Speed held.
   */
  wanted_speed_m_s: number
  /**
   * With the plan's crow; as without where it has none.
   */
  with_crow: StickPoint[]
  /**
   * The same plan without crow.
   */
  without_crow: StickPoint[]
}
/**
 * One target of the tuning.
 */
export interface TargetPage {
  /**
   * What the plan reaches.
   */
  got: string
  /**
   * Met or not.
   */
  met: boolean
  /**
   * What was asked.
   */
  name: string
  /**
   * What counts as met.
   */
  wanted: string
}
/**
 * Answer of `tune`.
 */
export interface TunePage {
  air: AirPage
  /**
   * Every level and arrangement, best first.
   */
  candidates: CandidatePage[]
  /**
   * Before the first flight.
   */
  cautions: string[]
  /**
   * The plan; null where none exists.
   */
  plan: PlanPage | null
  /**
   * Name of the plane.
   */
  plane: string
  /**
   * Content hash of the plane file.
   */
  plane_hash: string
  /**
   * What the plan is expected to do.
   */
  predicted: PredictPage | null
  /**
   * What would buy what is missing.
   */
  remedies: string[]
  /**
   * All targets met, some missed, or no plan at all.
   */
  status: 'met' | 'limited' | 'none'
  /**
   * The plan or its absence in two or three sentences.
   */
  summary: string
  /**
   * What was asked and what was reached.
   */
  targets: TargetPage[]
  /**
   * Speed wanted on every line.
   */
  wanted_speed_m_s: number
}
