package ruleplugin

// ContractVersion is the version of rootward.plugin.v1 that this program speaks.
const ContractVersion = 1

// Name is the name under which a plugin serves its rule set.
const Name = "rules"

// Cookie and CookieValue are a variable of the environment and its value, which tell a
// plugin that a host of this contract started it. It is no security measure: it only keeps
// other programs from being taken for plugins.
const (
	Cookie      = "ROOTWARD_RULE_PLUGIN"
	CookieValue = "rule-table"
)

// ClientCertificate is the variable by which a plugin learns the one certificate that it
// accepts, in PEM. Without it a plugin serves nobody.
const ClientCertificate = "PLUGIN_CLIENT_CERT"

// SocketFolder is the variable by which a plugin learns the folder for its socket.
const SocketFolder = "PLUGIN_UNIX_SOCKET_DIR"
