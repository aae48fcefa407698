# The common part of .ci/test and .ci/long: the external programs, and the counting of checks
# and tests. bash reads it with the project's folder as the working directory.

packages=(
    gcc libc6-dev pkg-config portaudio19-dev               # live audio by PortAudio
    libasound2-plugins pulseaudio pulseaudio-utils         # a sound server to hear
    espeak-ng                                              # the words beside the cues
    sox libsox-fmt-all flac fluidsynth fluid-soundfont-gm  # music and files
    python3 python3-scipy python3-numpy python3-statsmodels libfftw3-dev # checks from outside
    chromium                                               # the panel's page, used as a person does
    poppler-utils                                          # sheets, read and printed again
    postgresql sqlite3                                     # the logbook on a server, and its file opened
    make gcc-avr avr-libc libsimavr-dev libelf-dev cppcheck # the firmware, run as it is
)
staticcheck=honnef.co/go/tools/cmd/staticcheck@v0.8.2
tags=outside,portaudio
# Tests of many runs or of the same thing once more, for which .ci/test has no time: .ci/long
# runs them, in its part "whole".
campaigns='^Test(ArrowReadsTheParquetFile|BlemishesCostLittle|AccuracyOnMusicHasNotFallen|MixesEndAsAskedFor|ProgrammeFarFromItsTop|ADelayThatJumpsNeverSetsTheHead|FirmwareAlignsInLockStep|ByHandWithoutADelay|ByHandOnAUnitThatIsNotAsKnown|StandardErrorsAreHonest|RealMusicOnTape|SilenceWhileTheTimeGoesRound|AbruptStopWhileTheTimeGoesRound|LevelFitReachesItsBound|DwellIsNearItsFloor|UncertaintyHoldsAndShrinks|ShiftTimeIsAsUncertain|StepsAreAsUncertain|GuideForEveryJig)$'
scripts='^TestCommandLine$/^(demo-next|study-repeat)$'
export PYTHON=${PYTHON:-/usr/bin/python3} PYTHONDONTWRITEBYTECODE=1

passed=0 failed=0

# section NAME begins a part, and prints the minutes and seconds since the start.
section() { printf '\n== %d:%02d %s\n' $((SECONDS / 60)) $((SECONDS % 60)) "$*"; }

give_up() {
    echo "$*" >&2
    echo "0 passed, 1 failed"
    exit 1
}

# check NAME COMMAND... counts the command as one check; if it failed, shows its output.
check() {
    local name=$1 said began=$SECONDS
    shift
    if said=$("$@" 2>&1 </dev/null); then
        echo "ok    $name, $((SECONDS - began)) s"
        passed=$((passed + 1))
    else
        echo "FAIL  $name"
        printf '%s\n' "$said" | sed 's/^/      /'
        failed=$((failed + 1))
    fi
}

# tests COMMAND... runs go test -json, shows a line for each package and the output of failing
# tests, and adds to the counts.
tests() {
    local counts p f
    counts=$(mktemp)
    "$@" </dev/null 2>&1 | "$PYTHON" .ci/gotest.py "$counts"
    local status=("${PIPESTATUS[@]}")
    read -r p f <"$counts" || { p=0 f=1; }
    rm -f "$counts"
    # A failure that no test reported, for example of the go command itself.
    if [ "$f" = 0 ] && [ "${status[*]}" != "0 0" ]; then f=1; fi
    passed=$((passed + p)) failed=$((failed + f))
}

install() {
    local missing=()
    for package in "${packages[@]}"; do
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q '^install ok installed$' || missing+=("$package")
    done
    if [ ${#missing[@]} = 0 ]; then
        echo "all installed"
        return
    fi
    echo "installing ${missing[*]}"
    local log
    log=$(mktemp)
    { as_root apt-get -q update &&
        as_root env DEBIAN_FRONTEND=noninteractive apt-get -q install -y --no-install-recommends "${missing[@]}"; } \
        >"$log" 2>&1 </dev/null || { tail -n 40 "$log"; return 1; }
}

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

published_data() {
    local folder
    for folder in nist-strd nist-handbook; do
        (cd "testdata/$folder" && sha256sum --check --quiet SHA256SUMS) || return 1
    done
}

ramp() { (cd firmware-protocol/firmware/core && "$PYTHON" ramp.py | diff - ramp.h); }

analysed() {
    (cd firmware-protocol && cppcheck --enable=warning,style,performance,portability --error-exitcode=1 \
        --std=c99 -q --suppress=missingIncludeSystem "$@")
}

formatted() {
    local wrong
    wrong=$(git ls-files -z --cached --others --exclude-standard '*.go' | xargs -0 gofmt -l) || return 1
    [ -z "$wrong" ] || { echo "gofmt -w would change:"; echo "$wrong"; return 1; }
}

# folders_with PATTERN lists the folders with a matching line in their code, tests excluded.
folders_with() { git grep -lE "$1" -- '*.go' ':!*_test.go' | xargs -n1 dirname | sort -u | sed 's,^,./,'; }

# racing lists the packages that start goroutines, except the commands and the panel, which are
# waited for in real time, and the logbook, which runs separately.
racing() { folders_with '^[^/"]*[[:space:]]go [a-zA-Z.]+\(' | grep -vE '^\./(cmd/headtrue|cmd/headtrue/panel|sweep/logbook)$'; }

# differing lists the packages that have files for some tags only.
differing() { folders_with '^//go:build .*(outside|portaudio)' | grep -vE '^\./cmd/'; }

# tagged is a pattern for the tests of a folder that need a tag: the others have run already.
tagged() { echo "^($(git grep -lE '^//go:build .*(outside|portaudio)' -- "$1/*_test.go" | xargs grep -hoP '^func \KTest\w+' | paste -sd'|'))$"; }

# Without optimization, which takes a third of the time and finds no errors.
cross() { CGO_ENABLED=0 GOOS=${1%/*} GOARCH=${1#*/} go build -gcflags="all=-N -l" -o /dev/null ./...; }

# tree lists the differences from the last commit, ignored files included.
tree() { git status --porcelain --ignored --untracked-files=all; }

unchanged() {
    local after
    after=$(tree)
    [ "$1" = "$after" ] || diff <(echo "$1") <(echo "$after")
}

