package rulesdk

var (
	Run         = run
	WatchParent = watchParent
)
