// Makes the sound bank of this folder from FluidR3 GM (package fluid-soundfont-gm of Debian, MIT licence).
//
//   npm install spessasynth_core@4
//   python -m everyline.sound.bank > wanted.json
//   node make_bank.mjs FluidR3_GM.sf2 wanted.json everyline.sf2
//
// wanted.json is a list of {program, lowest, highest, width, rate, tuning, keys}: a General MIDI program from 0,
// the keys that must be recorded, the semitones that one recording may serve, the samples a second that are enough,
// pairs of [key, cents]: the recording that serves the key is moved by so much; and pairs of
// [key, decibels] for a drum kit: the keys that it has, and by how much each is held back. Of each stereo pair the left side
// is kept, in the middle; the outer recordings serve every key beyond, so that none is silent.

import fs from "node:fs";
import { BasicSoundBank, SoundBankLoader } from "spessasynth_core";

const PAN = 17;
const FINE_TUNE = 52;
const SAMPLE_MODES = 54;
const ATTENUATION = 48;
// Offsets into a recording, which would have to move with it.
const OFFSETS = [0, 1, 2, 3, 4, 12, 45, 50];
// Half width of the low-pass filter in samples of the lower rate, and the shape of its window (Kaiser).
const HALF_WIDTH = 24;
const BETA = 9;
// Samples after the end of a loop: SoundFont 2.04, section 7.10, asks for eight.
const GUARD = 8;

function main([sourcePath, wantedPath, targetPath]) {
    if (!targetPath) throw new Error("usage: node make_bank.mjs FluidR3_GM.sf2 wanted.json everyline.sf2");
    const bytes = fs.readFileSync(sourcePath);
    const source = SoundBankLoader.fromArrayBuffer(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length));
    const bank = new BasicSoundBank();
    const rates = new Map();
    for (const wanted of JSON.parse(fs.readFileSync(wantedPath, "utf8"))) addPreset(bank, source, wanted, rates);
    bank.removeUnusedElements();
    for (const sample of bank.samples) shrink(sample, bank, rates.get(sample));
    bank.flush();
    bank.soundBankInfo = {
        ...source.soundBankInfo,
        name: "Everyline practice sounds",
        comment: "Trimmed from FluidR3 GM by make_bank.mjs. MIT License, see LICENSE.txt.",
        software: "make_bank.mjs",
    };
    const written = bank.writeSF2({ writeDefaultModulators: false, writeExtendedLimits: false });
    fs.writeFileSync(targetPath, Buffer.from(written));
    console.log(`${bank.presets.length} presets, ${bank.samples.length} recordings, ${written.byteLength} bytes`);
}

function addPreset(bank, source, wanted, rates) {
    const found = source.presets.find(
        (preset) =>
            preset.program === wanted.program && preset.isGMGSDrum === wanted.keys.length > 0 && preset.bankMSB === 0,
    );
    if (!found) throw new Error(`no program ${wanted.program} in the source`);
    const preset = bank.clonePreset(found);
    for (const instrument of new Set(preset.zones.map((zone) => zone.instrument))) {
        trim(instrument, wanted);
        for (const zone of instrument.zones) rates.set(zone.sample, Math.max(rates.get(zone.sample) ?? 0, wanted.rate));
    }
    // A zone of the preset whose instrument has nothing left would be an instrument without sound.
    for (let at = preset.zones.length - 1; at >= 0; at--) {
        if (preset.zones[at].instrument.zones.length === 0) preset.deleteZone(at);
        else if (wanted.keys.length > 0) preset.zones[at].setGenerator(ATTENUATION, 0);
    }
}

function trim(instrument, wanted) {
    const kept = new Set();
    const drums = wanted.keys.length > 0;
    const wide = instrument.zones.filter((zone) => !zone.sample.name.trim().endsWith("(R)"));
    for (const layer of layers(wide)) {
        const near = layer.filter(({ keyRange }) =>
            drums
                ? wanted.keys.some(([key]) => keyRange.min <= key && key <= keyRange.max)
                : keyRange.max >= wanted.lowest && keyRange.min <= wanted.highest,
        );
        for (const group of drums ? near.map((zone) => [zone]) : groups(near, wanted)) {
            const zone = central(group, wanted);
            zone.keyRange = { min: Math.max(0, group[0].keyRange.min), max: group.at(-1).keyRange.max };
            kept.add(zone);
        }
        if (!drums && near.length > 0) {
            const ordered = [...kept].filter((zone) => layer.includes(zone));
            ordered[0].keyRange.min = 0;
            ordered.at(-1).keyRange.max = 127;
        }
    }
    for (const zone of kept) {
        tune(zone, instrument, wanted);
        if (drums) hold(zone, instrument, wanted);
    }
    for (let at = instrument.zones.length - 1; at >= 0; at--) {
        const zone = instrument.zones[at];
        if (!kept.has(zone)) instrument.deleteZone(at, true);
        else if (wide.length < instrument.zones.length || drums) zone.setGenerator(PAN, 0);
    }
}

function tune(zone, instrument, wanted) {
    for (const [key, cents] of wanted.tuning) {
        if (key < zone.keyRange.min || key > zone.keyRange.max) continue;
        const now = zone.getGenerator(FINE_TUNE, instrument.globalZone.getGenerator(FINE_TUNE, 0));
        zone.setGenerator(FINE_TUNE, now + cents);
    }
}

/** A drum is held back by so many decibels, whatever the source has it at. */
function hold(zone, instrument, wanted) {
    const [, decibels] = wanted.keys.findLast(([key]) => zone.keyRange.min <= key && key <= zone.keyRange.max);
    instrument.globalZone.setGenerator(ATTENUATION, 0);
    zone.setGenerator(ATTENUATION, 10 * decibels);
}

/** Zones split into layers of rising keys: an instrument may sound each key more than once. */
function layers(zones) {
    const found = new Map();
    const times = new Map();
    for (const zone of zones) {
        const key = `${zone.keyRange.min}-${zone.keyRange.max}`;
        const time = times.get(key) ?? 0;
        times.set(key, time + 1);
        if (!found.has(time)) found.set(time, []);
        found.get(time).push(zone);
    }
    return [...found.values()].map((layer) => layer.sort((a, b) => a.keyRange.min - b.keyRange.min));
}

/** Neighbouring zones gathered as long as they serve no more than `width` of the wanted keys. */
function groups(zones, wanted) {
    const found = [];
    for (const zone of zones) {
        const open = found.at(-1);
        const served = Math.min(zone.keyRange.max, wanted.highest) - Math.max(open?.[0].keyRange.min, wanted.lowest) + 1;
        if (open && served <= wanted.width) open.push(zone);
        else found.push([zone]);
    }
    return found;
}

/** The zone whose wanted keys lie nearest to the middle of its group. */
function central(group, wanted) {
    const middle = (first, last) =>
        (Math.max(first.keyRange.min, wanted.lowest) + Math.min(last.keyRange.max, wanted.highest)) / 2;
    const away = (zone) => Math.abs(middle(zone, zone) - middle(group[0], group.at(-1)));
    return group.reduce((best, zone) => (away(zone) < away(best) ? zone : best));
}

/** Cut a recording at the end of its loop and bring it down to a rate, keeping the loop a whole number of samples. */
function shrink(sample, bank, rate) {
    const zones = bank.instruments.flatMap((instrument) => instrument.zones).filter((zone) => zone.sample === sample);
    if (zones.some((zone) => OFFSETS.some((type) => zone.getGenerator(type, 0) !== 0))) {
        throw new Error(`${sample.name}: moving offsets is not supported`);
    }
    const looped = zones.every((zone) => zone.getGenerator(SAMPLE_MODES, 0) === 1);
    const audio = sample.getAudioData();
    const loop = sample.loopEnd - sample.loopStart;
    if (!looped) {
        const ratio = Math.min(1, rate / sample.sampleRate);
        write(sample, resample((at) => audio[at] ?? 0, Math.floor(audio.length * ratio), ratio), ratio);
        sample.loopStart = Math.floor(sample.loopStart * ratio);
        sample.loopEnd = Math.floor(sample.loopEnd * ratio);
        return;
    }
    const shorter = Math.max(1, Math.round(loop * Math.min(1, rate / sample.sampleRate)));
    const ratio = Math.min(1, shorter / loop);
    const endless = (at) => (at < 0 ? 0 : audio[at < sample.loopEnd ? at : sample.loopStart + ((at - sample.loopStart) % loop)]);
    const start = Math.ceil(sample.loopStart * ratio);
    const length = Math.round(loop * ratio);
    write(sample, resample(endless, start + length + GUARD, ratio), ratio);
    sample.loopStart = start;
    sample.loopEnd = start + length;
}

function write(sample, audio, ratio) {
    sample.setAudioData(audio, Math.round(sample.sampleRate * ratio));
}

/** Band-limited resampling with a Kaiser-windowed sinc; `ratio` is the new rate over the old. */
function resample(at, length, ratio) {
    const target = new Float32Array(length);
    if (ratio === 1) return target.map((_, place) => at(place));
    const half = HALF_WIDTH / ratio;
    for (let place = 0; place < length; place++) {
        const centre = place / ratio;
        let sum = 0;
        for (let near = Math.ceil(centre - half); near <= centre + half; near++) {
            const x = (near - centre) * ratio;
            sum += at(near) * ratio * sinc(x * 0.95) * 0.95 * kaiser(x / HALF_WIDTH);
        }
        target[place] = sum;
    }
    return target;
}

const sinc = (x) => (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x));
const kaiser = (x) => (Math.abs(x) > 1 ? 0 : bessel(BETA * Math.sqrt(1 - x * x)) / bessel(BETA));

/** Modified Bessel function of the first kind, order 0 (Abramowitz and Stegun 9.6.12). */
function bessel(x) {
    let sum = 1;
    let term = 1;
    for (let k = 1; term > 1e-12 * sum; k++) sum += term *= (x / (2 * k)) ** 2;
    return sum;
}

main(process.argv.slice(2));
