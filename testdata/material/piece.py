#!/usr/bin/python3
"""Writes a short piece, rich in cymbals, as a Standard MIDI File.

    piece.py FILE.mid [KEY...]

With keys, only those of the percussion are played, and nobody else.
Sixteen bars of 4/4 at 96 beats a minute, 40 s. Written for this project. The
same bytes come out every time: the small unevenness of a hand comes from a
linear congruential generator with a fixed start.
"""
import sys

TICKS_PER_BEAT = 480
BEATS_PER_MINUTE = 96
BARS = 16
DRUMS, BASS, PIANO, GUITAR, STRINGS = 9, 0, 1, 2, 3

# General MIDI percussion keys.
KICK, SNARE, CLOSED_HAT, PEDAL_HAT, OPEN_HAT = 36, 38, 42, 44, 46
CRASH, CRASH_2, RIDE, RIDE_BELL, SPLASH = 49, 57, 51, 53, 55
TAMBOURINE, MARACAS, CABASA = 54, 70, 69

# channel: (General MIDI programme from 0, volume, pan 0 left .. 127 right)
PLAYERS = {
    BASS: (33, 96, 64),
    PIANO: (0, 88, 52),
    GUITAR: (25, 92, 30),
    STRINGS: (48, 66, 92),
    DRUMS: (0, 112, 64),
}

# One chord a bar: root for the bass, then the notes above.
CHORDS = [
    (38, (62, 65, 69, 72)),  # D minor 7
    (43, (59, 62, 65, 71)),  # G 7
    (36, (60, 64, 67, 71)),  # C major 7
    (45, (60, 64, 67, 69)),  # A minor 7
    (41, (60, 65, 69, 76)),  # F major 7
    (40, (59, 64, 67, 74)),  # E minor 7
    (38, (57, 62, 65, 72)),  # D minor 7
    (43, (62, 65, 67, 71)),  # G 7
]


class Hand:
    """The unevenness of a player; Numerical Recipes' 32-bit generator."""

    def __init__(self):
        self.state = 1

    def near(self, value, spread):
        self.state = (1664525 * self.state + 1013904223) % 2**32
        return value + int((self.state / 2**31 - 1) * spread)


class Score:
    def __init__(self):
        self.events = []
        self.hand = Hand()

    def at(self, tick, *data):
        self.events.append((max(0, tick), len(self.events), bytes(data)))

    def note(self, channel, beat, key, velocity, beats):
        start = self.hand.near(int(beat * TICKS_PER_BEAT), 4)
        velocity = max(1, min(127, self.hand.near(velocity, 9)))
        self.at(start, 0x90 | channel, key, velocity)
        self.at(start + int(beats * TICKS_PER_BEAT), 0x80 | channel, key, 64)

    def players(self):
        for channel, (programme, volume, pan) in PLAYERS.items():
            self.at(0, 0xC0 | channel, programme)
            self.at(0, 0xB0 | channel, 7, volume)
            self.at(0, 0xB0 | channel, 10, pan)


def drums(score, bar, beat):
    section = bar // 4
    hit = lambda at, key, velocity: score.note(DRUMS, beat + at, key, velocity, 0.2)
    if bar % 4 == 0:
        hit(0, CRASH if section % 2 == 0 else CRASH_2, 104)
    if bar % 4 == 3:
        hit(3.5, SPLASH, 88)
    for at in (0, 1.75, 2.5):
        hit(at, KICK, 100)
    for at in (1, 3):
        hit(at, SNARE, 96)
    if section in (0, 2):  # hats in sixteenths
        for n in range(16):
            opened = n in (6, 14)
            hit(n / 4, OPEN_HAT if opened else CLOSED_HAT, 112 if n % 4 == 0 else 92)
    else:  # ride, with the hat on the foot
        for n in range(8):
            hit(n / 2, RIDE_BELL if n == 4 else RIDE, 112 if n % 2 == 0 else 98)
        for at in (1, 3):
            hit(at, PEDAL_HAT, 84)
    if section >= 1:
        for n in range(16):
            hit(n / 4, MARACAS if section == 1 else CABASA, 58 if n % 2 == 0 else 44)
    if section == 3:
        for n in range(8):
            hit(n / 2, TAMBOURINE, 62 if n % 2 else 48)


def tune(score, bar, beat):
    root, notes = CHORDS[bar % len(CHORDS)]
    for at, step, length in ((0, 0, 1.4), (1.5, 7, 0.4), (2, 12, 0.9), (3, 7, 0.9)):
        score.note(BASS, beat + at, root + step, 98, length)
    for at in (0, 1.5, 2.5):
        for key in notes:
            score.note(PIANO, beat + at, key, 78, 0.9)
    if bar >= 4:
        for n in range(8):
            score.note(GUITAR, beat + n / 2, notes[(n * 3) % 4] + 12, 84, 0.7)
    if bar >= 8:
        for key in notes[1:]:
            score.note(STRINGS, beat, key + 12, 70, 3.9)


def variable_length(value):
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(0x80 | value & 0x7F)
    return bytes(reversed(out))


def midi_file(events):
    """Format 0, one track (Standard MIDI Files 1.0)."""
    tempo = 60_000_000 // BEATS_PER_MINUTE
    track = b"\x00\xff\x51\x03" + tempo.to_bytes(3, "big")
    now = 0
    for tick, _, data in sorted(events):
        track += variable_length(tick - now) + data
        now = tick
    track += b"\x00\xff\x2f\x00"
    head = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1]) + TICKS_PER_BEAT.to_bytes(2, "big")
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


def audible(data, keys):
    """Whether an event is no note at all, or one of these percussion keys."""
    is_note = data[0] & 0xE0 == 0x80
    return not is_note or (data[0] & 0x0F == DRUMS and data[1] in keys)


def main():
    if len(sys.argv) < 2:
        sys.exit("usage: piece.py FILE.mid [KEY...]")
    score = Score()
    score.players()
    for bar in range(BARS):
        drums(score, bar, 4 * bar)
        tune(score, bar, 4 * bar)
    only = {int(key) for key in sys.argv[2:]}
    heard = [event for event in score.events if not only or audible(event[2], only)]
    with open(sys.argv[1], "wb") as out:
        out.write(midi_file(heard))


if __name__ == "__main__":
    main()
