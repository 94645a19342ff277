/** The cautions in short, as the report and the README box them; docs/cautions.md says more. */
export const shortCautions: readonly string[] = [
  'Bees sting, and a sting can bring on allergic shock and kill. Wear a veil, light the smoker before you open a hive (and put it out), do not work alone, have help in reach.',
  'Observation hives are glass: safety glass, two people to carry, fastened against tipping.',
  'Carbon dioxide used on insects puts people out in closed rooms too: ventilate well, or work outdoors.',
  'Small loads of brass, paint marks and handling weigh on the bee: the lightest, the shortest, no bee twice.',
  'Carrying feeders means roads, fields and weather: be seen, ask, tell someone, stop for thunder.',
  'Local rules on keeping bees, on bee disease and on research with animals bind before anything here; licensed practice decides.',
  'A decoded place is a probability, not a finding. Say which interval, which calibration and how many dances.',
];
