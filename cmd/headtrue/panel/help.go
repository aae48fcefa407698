package panel

// UsualAddress is the address of the page by default.
const UsualAddress = "127.0.0.1:8475"

// Help is the help of the command.
const Help = `Serve one page for the bench out of this program, to this machine only: what is heard,
live; the work, led by one button; STOP, always in view (Esc does the same); and the
logbook. Open the address that it shows: what follows # lets the page in, and whoever
has it can turn the motor.

One page controls, others watch; control is taken over with a button, and all pages
show that. STOP works from every page. If the page that controls is closed or lost, a
run pauses before its next step, and a motor that still turns after two seconds is
stopped; listening, a proof and work by hand go on. What a real bench is asked in the
terminal is asked on the page: nothing turns before the cautions are answered.

Only addresses of this machine are taken (127.0.0.1 or [::1]). From another machine:

  ssh -L 8475:127.0.0.1:8475 BENCH

and open the address there. On a virtual bench (--virtual) the page shows a run in real
time; a kept deck (headtrue bench --keep) keeps its screw for restore and proof.`
