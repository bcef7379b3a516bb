package main

import "github.com/spf13/cobra"

func (a *app) serveCommand() *cobra.Command { return &cobra.Command{Use: "serve"} }
