package help

import (
	"embed"
	"strings"

	"github.com/spf13/cobra"
)

//go:embed topics/*.txt
var topics embed.FS

// Topics are texts that belong to no command: headtrue help NAME. The first line of a file is
// its title.
func Topics() (list []*cobra.Command) {
	for _, name := range []string{"words", "music", "records", "sound"} {
		text, err := topics.ReadFile("topics/" + name + ".txt")
		if err != nil {
			panic(err) // the file is part of the program
		}
		title, body, _ := strings.Cut(string(text), "\n")
		list = append(list, &cobra.Command{Use: name, Short: title, Long: strings.TrimSpace(body)})
	}
	return list
}
