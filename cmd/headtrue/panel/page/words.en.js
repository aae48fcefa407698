// All words of the page, in English. A second language is one more file like this one. Words in
// braces are filled in. What the program itself says (questions, events, results) comes from it.
export const words = {
  top: {
    skip: 'Skip to the work', nav: 'Pages', bench: 'Bench', past: 'Past work', control: 'Connection and control',
    virtual: 'virtual bench {name}', real: '{port} and {audio}', noJig: 'no jig', noSound: 'no sound',
  },
  control: {
    take: 'Take control', give: 'Hand over', you: 'You control', other: '{name} controls, you watch', nobody: 'Nobody controls',
    watchers: '{n} watching', lost: 'Control has gone to {name}', came: 'You control now',
  },
  connection: {
    on: 'Connected', off: 'NOT CONNECTED', token: 'Refused: open the address that the program has printed',
    lost: 'The connection is lost', back: 'The connection is back',
  },
  units: { dbfs: 'dBFS', db: 'dB', hz: 'Hz', arcmin: '′', deg: '°', s: 's', percent: '%', vu: 'VU' },
  stop: {
    region: 'Stop', word: 'STOP', ready: 'Stops the motor at once. Esc does the same, anywhere.',
    turning: 'The motor turns. Esc stops it too.',
    ordered: 'STOP is on its way. Not yet confirmed.',
    standing: 'The motor has stopped{place}, {ms} ms after the order.',
    at: ' at {deg}°',
    unsure: 'NOT CONFIRMED. Cut the motor’s supply now.',
    nothingMoves: 'Nothing moves: no jig is open.',
    notConnected: 'Not connected: STOP cannot be sent. To stop a motor, cut its supply.',
    notSent: 'STOP COULD NOT BE SENT. Cut the motor’s supply now. It is sent first when the connection is back.',
  },
  next: {
    connecting: 'Connecting', answer: 'Answer the question', stopping: 'Stopping', resume: 'Go on', wait: 'At work', unit: 'Next unit',
    restore: 'Put the screw back', alignByHand: 'Align by hand', align: 'Align the head', check: 'Check the bench', checkAgain: 'Check again', listen: 'Listen',
    left: '{time} left', pause: 'Pause before the next step', finish: 'Finish with what it has',
    blocked: 'Failed checks: {n}. Mend what the ready table shows, then check again.', watch: 'You watch. STOP works for you too.',
    send: 'Send', answerLabel: 'Answer',
  },
  other: {
    check: 'Check the bench', align: 'Align with the jig', alignByHand: 'Align by hand', restore: 'Put the screw back', restoreByHand: 'Put back by hand',
    proof: 'Proof: listen again', nudge: 'Turn while held', listen: 'Listen', quiet: 'Stop listening', batch: 'Begin the batch', none: 'Nothing else can be begun now.',
  },
  doing: {
    nothing: 'The bench is at rest', listen: 'Listening', check: 'Checking the bench', align: 'Aligning', alignByHand: 'Aligning by hand',
    restore: 'Putting the screw back', restoreByHand: 'Putting back by hand', proof: 'Listening again to a head that was set', work: 'Batch', nudge: 'Turning while held',
    done: 'Done', notDone: 'Ended without a result', unit: 'Unit {unit}', unitHead: 'Unit {unit}, head {head}', paused: 'Paused: the screw rests', finishing: 'Finishing with what it has',
    lost: 'No connection to the program',
  },
  task: {
    nothing: 'Nothing turns. The next step is below.', listen: 'The deck’s sound is drawn live. Nothing turns.', stage: 'Stage {n} of about {of}: {name}',
    cautions: 'Before anything turns', part: 'Your part', sound: 'The sound', label: 'Label', choice: 'A question', text: 'A question', trouble: 'What went wrong',
    lost: 'The program goes on or stands by itself; this page shows nothing new until the connection is back.',
  },
  stages: { done: 'done', now: 'now', open: 'to come' },
  nudge: {
    hold: 'Hold to turn', say: 'Turns only while this is held, or the space bar. Letting go stops it.', back: 'Backward', forward: 'Forward', direction: 'Direction',
    leave: 'End: motor off', turning: 'Turning',
  },
  guide: {
    title: 'By hand', tones: 'Cue tones', tonesSay: 'Tones tell the distance while your eyes are on the screw.', clockwise: 'clockwise', counter: 'counter-clockwise',
    off: '{off}′ {side}', below: 'below the target', above: 'above the target', within: 'on the target', noTarget: 'no target yet',
    target: 'target', lowSide: 'below', highSide: 'above', noWay: 'Do not turn',
  },
  curve: {
    title: 'Treble against tilt', clear: 'Begin the curve anew', table: 'The points as a table', tilt: 'tilt, ′', screw: 'screw, ° from as found', treble: 'treble, dB',
    step: 'measured at rest', turning: 'measured while turning', unusable: 'not usable', edge: 'dull edge', optimum: 'optimum, with its 95 %', found: 'as found', pointer: 'now', heard: 'heard while the head is turned',
    describeRun: 'Treble against the screw: {n} points. {spots}', describeLive: 'Treble against tilt, as heard: {n} cells. Now {tilt}.',
    edges: 'Dull edges at {low} and {high}.', best: 'Optimum at {optimum}.', none: 'No optimum yet.', empty: 'The curve grows here as soon as something is measured.',
    columns: { n: 'step', phase: 'phase', x: 'screw, °', y: 'treble, dB', sd: '± dB (95 %)', tilt: 'tilt, ′', delay: 'delay, µs', usable: 'usable' }, yes: 'yes', no: 'no',
  },
  screw: { describe: 'The screw stands at {deg}° from as found.', unknown: 'The place of the screw is not known.', found: 'as found', optimum: 'optimum' },
  live: { title: 'Live', tilt: 'Tilt', treble: 'Treble', screw: 'Screw', within: '±{sd}′ (95 %)', still: 'still for {s} s', period: 'or any of those {period}′ apart', reFull: 're full scale', reMid: 're the mid band', fromFound: 'from as found', notMeasurable: 'not measurable' },
  sound: {
    good: 'Sound: good', none: 'Sound: nothing is heard yet', bad: 'Sound: {faults}', lost: '{n} frames lost',
    silent: 'silent', clipped: 'clipped', 'left-dead': 'left channel dead', 'right-dead': 'right channel dead', inverted: 'one channel inverted', identical: 'both channels identical',
    'not-numbers': 'samples that are no numbers', 'no-tone': 'the tone is missing', 'no-treble': 'too little treble',
  },
  levels: {
    title: 'Levels', left: 'Left', right: 'Right', quasi: 'quasi-peak', vu: 'VU', rms: 'rms, 0.4 s', hold: 'peak held, 3 s', sample: 'highest sample, 2 s', clip: 'CLIPPED', no: 'no',
    clipped: 'clipped', how: 'Bar: quasi-peak, IEC 60268-10 type I. Tick: its highest of 3 s. Thin bar: IEC 60268-17, 0 VU is −18 dBFS.', describe: 'Left {left}, right {right}, quasi-peak.',
  },
  phase: {
    title: 'Phase', say: '{phase}° at {hz} Hz; delay {delay} µs', unknown: 'phase unknown', same: 'in step', opposite: 'opposed', left: 'L', right: 'R', describe: 'Phase figure of both channels. {say}.',
  },
  spectrum: { title: 'Spectrum', say: 'Left: full line. Right: broken line. dBFS against Hz.', describe: 'Spectrum of both channels. Strongest band: left {left}, right {right}.' },
  speed: { title: 'Speed', now: 'speed error', mean: 'mean', flutter: 'flutter, weighted peak', rms: 'flutter, rms', tone: 'tone', hum: 'hum, left and right', coherence: 'coherence', noTone: 'no steady tone', wait: 'from 10 s on' },
  jig: {
    title: 'Jig and link', link: 'link', motor: 'motor', place: 'place', target: 'target', memory: 'count', switches: 'switches', none: 'no jig is open', ok: 'good', lost: 'LOST: {why}',
    off: 'off', stands: 'on, stands still', moves: 'TURNS', free: 'free', stopHeld: 'stop switch pressed', limitHeld: 'limit switch pressed', reason: 'last motion',
  },
  ready: {
    title: 'Ready?', confirm: 'What no program can see', say: '{pass} pass, {doubt} in doubt, {fail} fail, {unknown} unknown.', columns: { verdict: 'verdict', name: 'check', found: 'found', do: 'what to do' },
    pass: '✓ pass', doubt: '? doubt', fail: '✗ FAIL', unknown: '· unknown', seen: '☑', open: '☐',
  },
  batch: { title: 'Batch', columns: { unit: 'unit', head: 'head', state: 'state', left: 'left off, ′', why: 'why', run: 'run' }, now: 'on the bench' },
  job: {
    title: 'This unit', unit: 'Unit', head: 'Head', job: 'Job', tape: 'Tape', operator: 'Operator', tone: 'Tone on the tape, Hz (0: music)', within: 'Wanted uncertainty, ′', to: 'Align to', toTape: 'this tape', toStandard: 'the standard',
    other: 'Other work', batch: 'Batch: name', list: 'Batch: list of units (CSV)', batchTitle: 'A batch of units', byHand: 'by hand', again: 'again those that failed',
  },
  log: { title: 'What happened', empty: 'Nothing yet.' },
  result: {
    title: 'Result', found: 'As found', left: 'As left', gain: 'Treble gained', off: 'off the optimum', tape: 'Tape used', moved: 'Moved since', screw: 'Screw', run: 'Run',
    sheet: 'Sheet for the customer (PDF)', workshop: 'Workshop sheet (PDF)', label: 'Label (PDF)', note: 'Remark', addNote: 'Add the remark', noted: 'The remark is in the logbook.', restore: 'Put the screw back', proof: 'Proof: listen again', open: 'Show the run in full',
    pass: '✓', doubt: '?', notSet: '✗', certain: 'certain', uncertain: 'not certain',
  },
  listen: {
    title: 'Before and after, to hear', load: 'Load the clips', loading: 'Loading', before: 'Before', after: 'After', play: 'Play', pause: 'Pause', playing: 'plays: {which}', quiet: 'silent',
    blind: 'Blind: which is better?', a: 'A', b: 'B', better: '{which} is better', same: 'no difference', reveal: 'Show which is which', score: 'After preferred {after} times, before {before} times, no difference {same} times.',
    round: 'Round {n}. Listen to A and B as often as you like.', none: 'This run has kept no clips.', was: 'A was {a}, B was {b}.', end: 'End the blind test',
  },
  past: {
    runs: 'Logbook', search: 'Search', text: 'Any name', unit: 'Unit', head: 'Head', job: 'Job', command: 'Command', outcome: 'Outcome', since: 'Since (day)', until: 'Until (day)', all: 'all', go: 'Search', more: 'There are more: narrow the search.', none: 'No run fits.', count: '{n} runs',
    columns: { pick: 'compare', run: 'run', begun: 'begun', command: 'command', unit: 'unit', outcome: 'outcome', found: 'found off, ′', left: 'left off, ′' }, cutOff: 'cut off',
    open: 'Open {run}', pick: 'Compare {run}', compare: 'Compare the two picked', pickTwo: 'Pick two runs to compare them.', exports: 'Save as', exportList: 'Save the list (JSON)', exportRun: 'Save all entries (JSON)',
    run: 'Run {run}', compared: '{a} beside {b}', figures: 'Figures of the run', sheetText: 'The sheet as text', pictureOf: 'Picture of {what}; the text below says the same', close: 'Close',
    charts: 'Control charts', chartOf: 'Figure', chartKind: 'Kind', chartGroup: 'Groups', draw: 'Draw', studies: 'Studies', noStudies: 'There is no study in the logbook.', study: 'Study {study}', follow: 'Follow: draw it anew every 30 s', studyLine: '{command}, {runs} runs, {begun} to {ended}', textOf: 'In words and figures',
    of: { 'found-off': 'tilt as found', 'left-off': 'tilt as left', gearing: 'gearing', backlash: 'backlash', 'tape': 'tape used' },
    kinds: { individuals: 'single runs', xbar: 'means of groups' }, groups: { day: 'by day', unit: 'by unit', operator: 'by operator' },
    busy: 'Fetching', failed: 'It failed: {say}',
    pdf: 'PDF', html: 'HTML', svg: 'SVG', txt: 'text', json: 'JSON', sheet: 'customer’s sheet, PDF', workshop: 'workshop sheet, PDF', label: 'label, PDF', sheetHtml: 'sheet, HTML', sheetTxt: 'sheet, text', figuresSvg: 'figures, SVG', before: 'before, WAV', after: 'after, WAV',
  },
  refused: { 'not-controller': 'Refused: another page controls.', replayed: 'Refused: an order came twice.', expired: 'Refused: the order came too late.', control: 'Refused: the control has changed.', busy: 'Refused: a work goes on.', 'nothing-to-do': 'Refused: there is nothing to do that to.', wrong: 'Refused.', say: '{why} {say} {do}' },
};
