package rulehost

import (
	"io"

	"github.com/rs/zerolog"
)

func NewLineLog(log zerolog.Logger) io.Writer { return &lineLog{log: log, stream: "stderr"} }
