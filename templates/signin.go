package templates

// SignInPage asks for work e-mail and password.
type SignInPage struct {
	Base
	Email, Password Field
	Next            string   // address to go to afterwards
	Notice          string   // "You were signed out after 15 minutes without use."
	Demo            []DemoID // sign-ins printed by the demo; empty otherwise
	Service         *ServiceLink
	End             *Link // where the service's own session ends
}

// ServiceLink leads to a service through which staff may sign in.
type ServiceLink struct {
	Name, Href string
	Trouble    bool // it did not answer lately
}

// DemoID is a sign-in of the demo, shown on its sign-in page.
type DemoID struct{ Role, Email, Password string }

// File names the template.
func (*SignInPage) File() string { return "signin" }
