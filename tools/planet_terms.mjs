// planet_terms.mjs FOLDER: cuts the series VSOP87B to its leading terms and prints the rows of src/sky/planet_terms.cpp.
// FOLDER holds the tables as the npm package astronomia 4.2.0 carries them (data/vsop87BNAME.js; Bretagnon & Francou 1988).
import { pathToFileURL } from 'node:url'

const planets = ['mercury', 'venus', 'mars', 'jupiter', 'saturn', 'uranus', 'neptune']
const smallest = 3e-6 // rad; twice that, relative, in distance
const millennia = 0.1 // the century on either side of J2000

for (const [planet, name] of planets.entries()) {
  const series = (await import(pathToFileURL(`${process.argv[2]}/vsop87B${name}.js`))).default
  const unit = { L: 1, B: 1, R: 2 * series.R['0'][0][0] }
  for (const [quantity, key] of ['L', 'B', 'R'].entries()) {
    for (const power in series[key]) {
      for (const [amplitude, phase, frequency] of series[key][power]) {
        if (Math.abs(amplitude) * millennia ** power < smallest * unit[key]) continue
        const digits = [amplitude.toFixed(8), phase.toFixed(5), frequency.toFixed(5)].map(Number)
        console.log(`{${[planet, quantity, power, ...digits].join(', ')}},`)
      }
    }
  }
}
