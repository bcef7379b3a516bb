package main

import "github.com/spf13/cobra"

func (a *app) baseDrawCommand() *cobra.Command { return &cobra.Command{Use: "draw"} }
