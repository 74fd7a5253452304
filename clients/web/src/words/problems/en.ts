import type { ProblemCode } from "../../api/problem";

/** What happened, and what to do about it. `{seconds}` and the like are filled from the facts where the server sends them. */
export const problemsEn: Record<ProblemCode, readonly [happened: string, todo: string]> = {
  unreachable: [
    "The server does not answer.",
    "Check the network. What you entered is still here: try again.",
  ],
  // The request itself.
  bad_json: [
    "The server could not read what this screen sent.",
    "Reload the page; if it stays so, tell your administrator.",
  ],
  wrong_content_type: ["This kind of file is not taken here.", "Export it as CSV in UTF-8."],
  body_too_large: ["This is too large to be taken.", "Send a smaller file."],
  unknown_path: [
    "The server does not know this request.",
    "Reload the page: the server may be of another version.",
  ],
  method_not_allowed: [
    "The server does not take this request.",
    "Reload the page: the server may be of another version.",
  ],
  invalid_value: ["Something entered here is not allowed.", "Look at the marked place and correct it."],
  invalid_cursor: ["The list changed under the page.", "Load it again."],
  // Who is asking.
  not_signed_in: ["You are not signed in.", "Sign in."],
  session_ended: ["Your sign-in has ended.", "Sign in again; what you entered stays."],
  wrong_role: ["Your role does not include this.", "Ask whoever manages the users here."],
  sign_in_refused: ["Username and password do not belong together.", "Type both again."],
  sign_in_throttled: ["Too many sign-ins failed.", "Wait {retry_after_seconds} seconds, then try again."],
  tls_required: [
    "The server takes this over an encrypted connection only.",
    "Open the address that begins with https.",
  ],
  // The stored state.
  not_found: ["This is not here.", "It may belong to another site, or not be yours to see."],
  id_reused: [
    "This was stored before with other content.",
    "Load the page again and look at what is stored.",
  ],
  already_exists: ["This is stored already.", "Look for what is there instead of adding it again."],
  stale_version: [
    "Somebody changed this meanwhile.",
    "Load it again, then make your change on top of theirs.",
  ],
  happened_in_future: ["The time lies in the future.", "Check the clock of this device."],
  still_in_use: ["Something else still depends on this.", "End that first."],
  station_closed: ["This station is closed.", "Open it again on its day, or use another station."],
  day_closed: ["This fit-testing day is closed.", "Choose another day."],
  // The server.
  busy: ["The server is busy.", "Try again in a moment."],
  database_unavailable: [
    "The server cannot reach its records just now. Nothing was stored.",
    "Try again in a moment.",
  ],
  streams_full: [
    "Too many screens are following the server live.",
    "This screen goes on and asks from time to time.",
  ],
  internal: [
    "Something went wrong in the server.",
    "Try again; if it stays so, give your administrator the number below.",
  ],
  // Rule sets.
  rule_set_invalid: ["The rule set has mistakes. Nothing was stored.", "Correct the places named below."],
  rule_set_open: [
    "Values of the rule set are still unconfirmed.",
    "A named person has to confirm them first.",
  ],
  // The roster.
  roster_not_text: ["The file is not UTF-8 text.", "Export it again as CSV in UTF-8."],
  roster_line_invalid: [
    "Lines of the file cannot be taken. Nothing was stored.",
    "Correct the lines named below, or the choice of columns.",
  ],
  roster_column_missing: ["A column is missing.", "Say which column of the file holds it."],
  // Sequences of events.
  event_out_of_order: ["A step before this one has not arrived.", "It is sent first; wait a moment."],
  event_conflict: ["Another device recorded a step here.", "Load the record again and go on from there."],
  event_before_previous: ["The time lies before the step before it.", "Check the clock of this device."],
  event_not_now: ["This step does not belong here now.", "Look at what is due now."],
  // Check-in and permission.
  permission_missing: [
    "No decision in force permits this person to wear a respirator.",
    "Do not test. Send them to occupational health.",
  ],
  hair_at_seal: [
    "Hair crosses the sealing surface.",
    "No test is made like this: offer to shave now, another day, or other equipment.",
  ],
  intake_too_recent: ["Food, drink, smoke or gum was too short a time ago.", "Wait until the time shown."],
  visit_not_open: ["This visit has ended.", "Check the person in again if they are to go on today."],
  nobody_ready: [
    "Nobody is ready for this station.",
    "Wait; the next person is called as soon as they are ready.",
  ],
  // Screening.
  explain_first: ["The procedure has not been explained.", "Explain it first."],
  plain_water_first: ["Plain water comes first here.", "Try plain water before the first set."],
  screening_ended: ["The screening has ended.", "Open a new one if it has to be made again."],
  screening_open: ["A screening is still open.", "End it first."],
  agent_closed_today: ["This agent was not tasted today.", "Use the other agent, or refer."],
  agent_switch_wait: ["The rest after the other agent is not over.", "Wait {seconds_remaining} seconds."],
  wait_after_fail: ["The rest after a fail is not over.", "Wait {seconds_remaining} seconds."],
  // Attempt, fitting.
  must_be_donned_by_wearer: [
    "The wearer has to put the respirator on.",
    "Let them take it off and put it on without help.",
  ],
  donned_before_screening: [
    "The respirator was on before the screening ended.",
    "Take it off and put it on again.",
  ],
  already_donned: ["The respirator is already on.", "Record first that it was taken off."],
  not_donned: ["The respirator is not on.", "Put it on first."],
  wear_time_short: ["The respirator has not been worn long enough.", "Wait {seconds_remaining} seconds."],
  seal_check_missing: ["No good seal check since the respirator was put on.", "Make the seal check first."],
  redon_first: ["The seal check failed.", "Take the respirator off and put it on again."],
  not_ready: ["Not ready yet.", "The hood has to be on, and the taste of the screening gone."],
  // Measuring.
  reading_file_invalid: [
    "The file of readings cannot be read so. Nothing was stored.",
    "Correct the places named below.",
  ],
  implausible_value: ["This value is hardly possible.", "Read it off again."],
  negative_pressure_mode_required: [
    "A respirator with its own air is tested in negative-pressure mode only.",
    "Switch it over.",
  ],
  filter_not_suitable: ["The filter does not suit this method.", "Use the filter the method needs."],
  // Attempt, testing and closing.
  wrong_dose: ["That is not the number of squeezes due.", "Give the number shown."],
  dose_too_early: ["The next dose is not due yet.", "Wait {seconds_remaining} seconds."],
  dose_due: ["A dose is due.", "Give it first."],
  exercise_out_of_order: ["The exercises run in their order.", "Go on with the one shown."],
  exercise_too_short: ["The exercise has not run for its full length.", "Wait {seconds_remaining} seconds."],
  closing_incomplete: [
    "Something is missing before this can be signed as passed.",
    "Answer what is still open.",
  ],
  attempt_ended: ["The attempt has ended.", "Sign it."],
  attempt_open: ["An attempt is still open.", "End it first."],
  // Ladder.
  new_screening_required: ["A new screening is needed first.", "Screen again today, then test."],
  different_respirator_required: [
    "This respirator failed today, or could not be worn.",
    "Take a different one.",
  ],
  referred_today: ["The last step for today is used.", "Refer the person."],
  stopped_needs_clinician: [
    "A test was stopped because the person was unwell.",
    "A clinician has to decide before the next one.",
  ],
  test_method_not_allowed: [
    "This kind of test cannot clear this respirator for its use.",
    "Use another method.",
  ],
  // Supplies.
  lot_stopped: ["The lot is stopped.", "Put it aside and take another."],
  stopped: ["This is stopped.", "Put it aside and take another."],
  stop_released: ["The stop was released before.", "Nothing is left to release."],
  bottle_expired: ["The bottle is past its date.", "Take another bottle."],
  bottle_not_opened: ["The bottle has no opening date.", "Ask the stores."],
  opened_life_over: ["The bottle has been open too long.", "Take another bottle."],
  fill_missing: ["The station has no fill of this solution.", "Fill the nebulizer first."],
  fill_too_old: ["The fill is too old.", "Rinse and refill the nebulizer."],
  fill_wrong_agent: ["The fill holds another agent.", "Take the nebulizer with the right one."],
  fill_wrong_solution: ["The fill holds the other solution.", "Take the nebulizer with the right one."],
  fill_on_top: ["The nebulizer still holds a rest.", "Empty and rinse it first."],
  bottle_elsewhere: [
    "By the books the bottle is at another place.",
    "Hand it over or issue it to this station first.",
  ],
  nebulizer_unknown: [
    "No nebulizer of this label is registered.",
    "Look at the label once more; what is new is registered first.",
  ],
  expiry_ambiguous: [
    "Day and month of this expiry can be taken for each other.",
    "Type it with the month in letters, or as year-month-day.",
  ],
  bottle_empty: ["By the books the bottle does not hold that much.", "Count it, or take another one."],
  nebulizer_out: ["The nebulizer is out of use.", "Take another until it is mended."],
  hood_not_ready: ["The hood is not ready.", "Take another, or wait until it is dry."],
  first_expired_first: ["Something alike here ends earlier.", "Take that one first, or give a reason."],
  moved_meanwhile: ["It is no longer where you believe.", "Load the place again."],
  label_unreadable: ["The label cannot be read.", "Scan again, or type the number."],
  // Badges and gates.
  not_cleared: [
    "The person has no clearance that could be printed.",
    "Nothing is printed; look at their record.",
  ],
  badge_held: [
    "The badge is held while something is being looked into.",
    "Print nothing for it until it is released.",
  ],
  badge_outdated: [
    "Something has changed since the badge was made.",
    "Do not hand it over: print it again and destroy this one.",
  ],
  badge_handed_over: ["The badge was handed over before.", "Match name and face before you give it back."],
  badge_of_another: ["This is another person's badge.", "Do not hand it over; look for the right one."],
  no_badge: ["This person has no badge that counts.", "Nothing is left to end."],
  no_badge_due: [
    "Nobody of this day needs a badge now.",
    "Whoever is still being tested comes later; look at the batch that is being made.",
  ],
  batch_running: ["These badges are still being made.", "Print them when the batch is done."],
  hold_released: ["The hold was released before.", "Nothing is left to release."],
  badge_already_ended: ["The badge has already ended.", "Nothing is left to end."],
  no_glyph: ["A letter of the name is in none of the fonts.", "Tell your administrator which name it is."],
  already_reviewed: ["Somebody has looked at this already.", "Load the list again to see who."],
  already_corrected: ["The record has already been corrected.", "Look at the correction."],
};
