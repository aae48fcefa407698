package panel

import (
	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

// stamp is what makes an order good once and for a moment.
type stamp struct {
	Control   int   `json:"control"`
	Seq       int64 `json:"seq"`
	ExpiresMS int64 `json:"expires_ms"`
}

// said is a message from a page.
type said struct {
	Type string `json:"type"`
	stamp
	Token     string `json:"token"`
	Name      string `json:"name"`
	Direction int    `json:"direction"`
	errand
}

// errand is what an order asks for.
type errand struct {
	Do       string  `json:"do"`
	ByHand   bool    `json:"by_hand"`
	Run      string  `json:"run"`
	Batch    string  `json:"batch"`
	List     string  `json:"list_csv"`
	Again    bool    `json:"again"`
	Deg      float64 `json:"deg"`
	DegPerS  float64 `json:"deg_per_s"`
	Question int     `json:"question"`
	Answer   string  `json:"answer"`
	Text     string  `json:"text"`
	fields
}

// fields are settings that a page may change for one work. A nil one is as in the settings.
type fields struct {
	Unit         *string  `json:"unit"`
	Head         *string  `json:"head"`
	Job          *string  `json:"job"`
	Tape         *string  `json:"tape"`
	Operator     *string  `json:"operator"`
	ToneHz       *float64 `json:"tone_hz"`
	To           *string  `json:"to"`
	WithinArcmin *float64 `json:"within_arcmin"`
}

// state is what the panel is doing.
type state struct {
	Type        string     `json:"type"`
	Doing       string     `json:"doing"`
	Command     string     `json:"command"`
	ByHand      bool       `json:"by_hand"`
	SinceMS     int64      `json:"since_ms"`
	Question    *question  `json:"question"`
	Paused      bool       `json:"paused"`
	Finishing   bool       `json:"finishing"`
	Stopping    bool       `json:"stopping"`
	Stage       string     `json:"stage"`
	StageN      int        `json:"stage_n"`
	StagesAbout int        `json:"stages_about"`
	Stages      []string   `json:"stages"`
	SecondsLeft *float64   `json:"seconds_left"`
	Run         string     `json:"run"`
	Unit        string     `json:"unit"`
	Head        string     `json:"head"`
	During      string     `json:"during"`
	Error       *brokenOff `json:"error"`
}

// question is a question that is open.
type question struct {
	ID      int              `json:"id"`
	Kind    app.QuestionKind `json:"kind"`
	Text    string           `json:"text"`
	Answers []app.Answer     `json:"answers"`
	Free    bool             `json:"free"`
}

// brokenOff is why a work could not begin, or broke.
type brokenOff struct {
	Say     string         `json:"say"`
	Do      string         `json:"do"`
	Outcome record.Outcome `json:"outcome"`
}

// motor is the jig's last status. Without a jig its figures are nil.
type motor struct {
	Type        string   `json:"type"`
	Jig         bool     `json:"jig"`
	Link        string   `json:"link"`
	Energised   bool     `json:"energised"`
	Moving      bool     `json:"moving"`
	PositionDeg *float64 `json:"position_deg"`
	TargetDeg   *float64 `json:"target_deg"`
	Memory      string   `json:"memory"`
	StopHeld    bool     `json:"stop_held"`
	LimitHeld   bool     `json:"limit_held"`
	Reason      string   `json:"reason"`
}

// stopped is how far a STOP has come.
type stopped struct {
	Type        string   `json:"type"`
	N           int      `json:"n"`
	State       string   `json:"state"`
	By          int      `json:"by"`
	MS          float64  `json:"ms"`
	PositionDeg *float64 `json:"position_deg"`
	Say         string   `json:"say"`
	Do          string   `json:"do"`
}

// event is a sentence of a run.
type event struct {
	N           int         `json:"n"`
	Kind        stream.Kind `json:"kind"`
	Phase       string      `json:"phase"`
	Say         string      `json:"say"`
	TapeSeconds float64     `json:"tape_seconds"`
}

// guide is what the person who turns the screw should do.
type guide struct {
	Type            string     `json:"type"`
	Act             stream.Act `json:"act"`
	New             bool       `json:"new"`
	Way             stream.Way `json:"way"`
	Turns           float64    `json:"turns"`
	OffArcmin       *float64   `json:"off_arcmin"`
	ToleranceArcmin float64    `json:"tolerance_arcmin"`
	Say             string     `json:"say"`
}

// begun tells that a work, or a run of it, begins.
type begun struct {
	Type    string   `json:"type"`
	Doing   string   `json:"doing"`
	Command string   `json:"command"`
	ByHand  bool     `json:"by_hand"`
	Run     string   `json:"run"`
	Unit    string   `json:"unit"`
	Head    string   `json:"head"`
	Stages  []string `json:"stages"`
	ToneHz  float64  `json:"tone_hz"`
}

// greeting is the answer to a page's hello.
type greeting struct {
	Type          string          `json:"type"`
	Protocol      int             `json:"protocol"`
	Program       string          `json:"program"`
	NowMS         int64           `json:"now_ms"`
	You           int             `json:"you"`
	Name          string          `json:"name"`
	Virtual       *string         `json:"virtual"`
	Seed          uint64          `json:"seed"`
	Port          string          `json:"port"`
	Audio         string          `json:"audio"`
	Kept          bool            `json:"kept"`
	Settings      greetedSettings `json:"settings"`
	Can           abilities       `json:"can"`
	UpdatesPerS   int             `json:"updates_per_s"`
	SpectrumHz    []float64       `json:"spectrum_hz"`
	Confirm       []string        `json:"confirm"`
	SettingsError string          `json:"settings_error"`
}

// greetedSettings are the settings that a page may change for one work.
type greetedSettings struct {
	Unit         string  `json:"unit"`
	Head         string  `json:"head"`
	Job          string  `json:"job"`
	Tape         string  `json:"tape"`
	Operator     string  `json:"operator"`
	ToneHz       float64 `json:"tone_hz"`
	To           string  `json:"to"`
	WithinArcmin float64 `json:"within_arcmin"`
}

// abilities are what this bench can do.
type abilities struct {
	Jig     bool `json:"jig"`
	ByHand  bool `json:"by_hand"`
	Restore bool `json:"restore"`
	Proof   bool `json:"proof"`
}
