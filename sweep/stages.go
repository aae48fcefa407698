package sweep

// The phases of runs that nothing disturbs, in their order. A programme is approached by its
// delay in place of the bracket; what else comes between shows only on the way.
var (
	AlignStages   = []string{"ready", "as found", "engage", "bracket", "refine", "drive back", "verify", "as left"}
	ByHandStages  = []string{"ready", "as found", "bracket", "refine", "set", "as left"}
	SurveyStages  = []string{"ready", "as found", "engage", "survey", "restore", "as left"}
	GaugeStages   = []string{"ready", "as found", "engage", "bracket", "refine", "drive back", "verify", "restore", "as left"}
	RestoreStages = []string{"ready", "engage", "restore", "as left"}
	ProveStages   = []string{"ready", "proof"}
	ObserveStages = []string{"ready"}
	ReadyStages   = []string{"ready", "motor"} // of a check
)
